"""The invented works as plain tables: people, services, materials, turnarounds, survey rounds and vessels.

Nobody and nothing here exists. Allowable stresses are this works' register entries, not a stress table.
"""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

NAME = "Wrackline Point Works"
SEED = 20261101
AS_OF = date(2026, 11, 1)

INSPECTORS = {"North": "Ines Vardalen", "South": "Marek Odunby", "Jetty": "Hollis Tranmere"}
MANAGER = "Sunniva Ardgour"
AUDITOR = "Piet Lomasney"

TURNAROUNDS = (
    ("TA 2022", date(2022, 2, 28), date(2022, 4, 1)),
    ("TA 2024", date(2024, 9, 2), date(2024, 10, 4)),
    ("TA 2027", date(2027, 3, 8), date(2027, 4, 16)),
    ("TA 2029", date(2029, 10, 1), date(2029, 11, 9)),
)

#: Service: design corrosion rate, mil/year.
SERVICES = {
    "propylene": 0.5,
    "butane": 0.5,
    "nitrogen": 0.0,
    "instrument air": 0.8,
    "ethylene oxide": 0.8,
    "glycol": 1.3,
    "solvent": 1.1,
    "heavy ends": 1.6,
    "hydrogen rich gas": 0.7,
    "steam": 1.3,
    "condensate": 1.7,
    "lean amine": 1.9,
    "spent caustic": 2.3,
    "wash water": 2.6,
    "cooling water": 2.8,
    "rich amine": 3.2,
    "acid gas": 3.8,
    "brine": 4.2,
}

#: Material: allowable stress on the register, psi, for editions with design margin 4 and (from 1999) 3.5. From memory.
MATERIALS = {
    "SA-516-70": (17_500, 20_000),
    "SA-516-60": (15_000, 17_100),
    "SA-240-304L": (15_700, 16_700),
    "SA-106-B": (15_000, 17_100),
}
NECK_MATERIAL = "SA-106-B"
EDITIONS = (1992, 1995, 1998, 2001, 2004, 2007, 2010, 2013)

#: Extent of radiography: joint efficiency, longitudinal and circumferential (UW-12).
RADIOGRAPHY = {"full": (1.0, 1.0), "spot": (0.85, 0.85), "none": (0.70, 0.70), "mixed": (1.0, 0.85)}

#: Survey rounds by name. The last gap is long enough for a short-term rate to mean something.
ROUNDS = {
    "north": ((2006, 5, 16), (2010, 5, 11), (2014, 5, 20), (2018, 5, 15), (2021, 9, 14), (2025, 9, 9)),
    "north often": ((2005, 10, 4), (2008, 10, 7), (2011, 10, 4), (2014, 5, 20), (2018, 5, 15), (2021, 9, 14),
                    (2025, 9, 9)),
    "south": ((2005, 4, 19), (2009, 5, 14), (2013, 5, 14), (2017, 5, 9), (2022, 3, 8), (2026, 4, 14)),
    "south often": ((2005, 4, 19), (2008, 4, 22), (2011, 5, 10), (2013, 5, 14), (2017, 5, 9), (2019, 10, 1),
                    (2022, 3, 8), (2026, 4, 14)),
    "jetty": ((2007, 6, 12), (2012, 6, 5), (2017, 6, 13), (2022, 6, 14), (2026, 6, 9)),
}  # fmt: skip


class Row(NamedTuple):
    """One vessel as its designers ordered it (inches, feet, psi)."""

    tag: str
    shape: str  # drum, column, cone column, exchanger, reactor, sphere
    head: str  # 2:1, tori, hemi
    description: str
    service: str
    in_service: date
    mawp: float
    inside_diameter: float
    courses: int
    material: str
    radiography: str
    pace: float = 1.0  # true rate over the designers' rate

    @property
    def unit(self) -> str:
        """The process unit, by the tag's hundred."""
        return f"{self.tag[2]}00"


def mm(value: float) -> float:
    """Millimetres in inches."""
    return value / 25.4


def bar(value: float) -> float:
    """Bar in psi."""
    return value * 0.1 / 0.006894757293168361


# Short names for the table: start-ups by year, and materials.
Y1996 = date(1996, 10, 8)
Y1997 = date(1997, 3, 18)
Y1998 = date(1998, 6, 15)
Y1999 = date(1999, 11, 2)
Y2000 = date(2000, 8, 22)
Y2001 = date(2001, 9, 11)
Y2002 = date(2002, 5, 28)
Y2003 = date(2003, 4, 22)
Y2005 = date(2005, 2, 8)
Y2006 = date(2006, 11, 14)
Y2014 = date(2014, 9, 16)
Y2024 = date(2024, 6, 10)
P60, P70, SS = "SA-516-60", "SA-516-70", "SA-240-304L"

# fmt: off
VESSELS: tuple[Row, ...] = (
    # North: unit 100, oxide.
    Row("C-101", "column", "2:1", "Oxide stripper", "ethylene oxide", Y1998, 150, 72, 3, SS, "spot"),
    Row("C-102", "column", "2:1", "Oxide purification column", "ethylene oxide", Y1998, 165, 84, 3, SS, "full"),
    Row("C-103", "cone column", "2:1", "Glycol dehydration column", "glycol", Y1998, 125, 90, 3, P70, "spot"),
    Row("C-104", "column", "tori", "Glycol splitter", "glycol", Y2003, 110, 66, 2, P70, "spot"),
    Row("E-101", "exchanger", "2:1", "Reactor feed heater", "hydrogen rich gas", Y1998, 350, 36, 1, P70, "full"),
    Row("E-102", "exchanger", "2:1", "Stripper reboiler", "steam", Y1998, 185, 42, 1, P70, "spot"),
    Row("E-103", "exchanger", "2:1", "Oxide condenser", "cooling water", Y2001, 150, 38, 1, P70, "spot"),
    Row("E-104", "exchanger", "2:1", "Glycol cooler", "cooling water", Y2001, 150, 30, 1, P60, "spot", 1.6),
    Row("E-105", "exchanger", "2:1", "Glycol reboiler", "steam", Y2003, 200, 44, 1, P70, "spot"),
    Row("E-106", "exchanger", "2:1", "Vent condenser", "glycol", Y2003, 150, 28, 1, P60, "spot"),
    Row("R-101", "reactor", "hemi", "Oxide reactor A", "hydrogen rich gas", Y1998, 325, 96, 2, P70, "full"),
    Row("R-102", "reactor", "hemi", "Oxide reactor B", "hydrogen rich gas", Y1998, 325, 96, 2, P70, "full"),
    Row("R-103", "reactor", "hemi", "Glycol reactor", "glycol", Y2003, 275, 60, 2, P70, "full"),
    Row("V-101", "drum", "2:1", "Feed knock-out drum", "propylene", Y1998, 300, 60, 1, P70, "spot"),
    Row("V-102", "drum", "2:1", "Recycle gas drum", "hydrogen rich gas", Y1998, 340, 54, 1, P70, "full"),
    Row("V-103", "drum", "2:1", "Stripper reflux drum", "ethylene oxide", Y1998, 150, 66, 1, SS, "spot"),
    Row("V-104", "drum", "tori", "Wash water drum", "wash water", Y2001, 110, 60, 1, P70, "spot", 1.9),
    Row("V-105", "drum", "2:1", "Glycol surge drum", "glycol", Y2003, 125, 78, 1, P70, "spot"),
    Row("V-106", "drum", "2:1", "Steam condensate pot", "condensate", Y1998, 185, 36, 1, P70, "spot"),
    Row("V-107", "drum", "2:1", "Flash drum", "glycol", Y1998, 160, 64, 1, P70, "spot"),
    Row("V-108", "drum", "2:1", "Light ends drum", "propylene", Y2003, 260, 48, 1, P70, "spot"),
    Row("V-109", "drum", "2:1", "Flare seal drum", "wash water", Y1998, 150, 72, 1, P60, "none"),
    # North: unit 200, amines.
    Row("C-201", "cone column", "2:1", "Amine absorber", "rich amine", Y1996, 240, 78, 3, P70, "full"),
    Row("C-202", "column", "2:1", "Amine regenerator", "rich amine", Y1996, 125, 90, 3, P70, "spot"),
    Row("C-203", "column", "2:1", "Amine wash column", "lean amine", Y1996, 140, 60, 2, P70, "spot"),
    Row("D-201", "drum", "2:1", "Rich amine flash drum", "rich amine", Y1996, 150, 72, 2, P70, "spot", 1.25),
    Row("D-202", "drum", "2:1", "Lean amine surge drum", "lean amine", Y1996, 125, 84, 2, P70, "spot"),
    Row("D-203", "drum", "2:1", "Acid gas knock-out drum", "acid gas", Y1996, 175, 78, 1, P70, "spot", 0.8),
    Row("D-204", "drum", "2:1", "Regenerator reflux drum", "acid gas", Y1996, 160, 84, 1, P70, "spot", 0.8),
    Row("D-205", "drum", "2:1", "Sour water drum", "acid gas", Y2001, 150, 54, 1, P70, "spot", 1.75),
    Row("D-206", "drum", "hemi", "Treated gas drum", "propylene", Y1996, 420, 66, 2, P70, "full"),
    Row("D-207", "drum", "2:1", "Amine sump drum", "lean amine", Y2001, 120, 60, 1, P70, "spot"),
    Row("D-208", "drum", "tori", "Caustic drum", "spent caustic", Y2001, 125, 54, 1, P70, "spot"),
    Row("D-209", "drum", "2:1", "Spent caustic drum", "spent caustic", Y1996, 140, 66, 1, P70, "spot"),
    Row("E-201", "exchanger", "2:1", "Lean and rich exchanger", "rich amine", Y1996, 240, 40, 1, P70, "spot"),
    Row("E-202", "exchanger", "2:1", "Regenerator reboiler", "steam", Y1996, 165, 50, 1, P70, "spot"),
    Row("E-203", "exchanger", "2:1", "Lean amine cooler", "cooling water", Y1996, 150, 36, 1, P70, "spot", 1.35),
    Row("E-204", "exchanger", "2:1", "Reflux condenser", "acid gas", Y2001, 150, 42, 1, P70, "spot"),
    # South: unit 300, solvent recovery.
    Row("C-301", "column", "2:1", "Solvent stripper", "solvent", Y1999, 130, 78, 3, P70, "spot"),
    Row("C-302", "cone column", "2:1", "Solvent rectifier", "solvent", Y1999, 130, 84, 3, P70, "spot"),
    Row("C-303", "column", "tori", "Heavy ends column", "heavy ends", Y1999, 115, 72, 2, P70, "spot"),
    Row("C-304", "column", "2:1", "Brine stripper", "brine", Y2002, 140, 66, 2, P70, "spot", 1.6),
    Row("E-301", "exchanger", "2:1", "Stripper reboiler", "steam", Y1999, 185, 46, 1, P70, "spot"),
    Row("E-302", "exchanger", "2:1", "Rectifier condenser", "cooling water", Y1999, 150, 40, 1, P70, "spot"),
    Row("E-303", "exchanger", "2:1", "Solvent cooler", "cooling water", Y1999, 150, 32, 1, P60, "spot"),
    Row("E-304", "exchanger", "2:1", "Heavy ends heater", "heavy ends", Y2002, 225, 34, 1, P70, "spot"),
    Row("E-305", "exchanger", "2:1", "Feed preheater", "solvent", Y2002, 210, 36, 1, P70, "spot"),
    Row("E-307", "exchanger", "2:1", "Brine cooler", "brine", Y2002, 150, 40, 1, P70, "spot"),
    Row("R-301", "reactor", "hemi", "Hydrogenation reactor", "hydrogen rich gas", Y1999, 480, 54, 2, P70, "full"),
    Row("R-302", "reactor", "2:1", "Guard bed A", "solvent", Y1999, 250, 62, 1, P70, "spot"),
    Row("R-303", "reactor", "2:1", "Guard bed B", "solvent", Y1999, 250, 62, 1, P70, "spot"),
    Row("V-301", "drum", "2:1", "Solvent feed drum", "solvent", Y1999, 120, 80, 2, P70, "spot"),
    Row("V-302", "drum", "2:1", "Rectifier reflux drum", "solvent", Y1999, 130, 70, 1, P70, "spot"),
    Row("V-303", "drum", "tori", "Heavy ends drum", "heavy ends", Y1999, 115, 72, 1, P70, "spot"),
    Row("V-304", "drum", "tori", "Brine separator", "brine", Y1999, 180, 72, 1, P70, "spot", 0.8),
    Row("V-305", "drum", "2:1", "Wash drum", "wash water", Y1999, 120, 60, 1, P70, "spot", 1.6),
    Row("V-306", "drum", "2:1", "Off-gas drum", "hydrogen rich gas", Y1999, 190, 56, 1, P70, "spot"),
    # South: unit 400, utilities.
    Row("E-405", "exchanger", "2:1", "Condensate cooler", "condensate", Y1997, 165, 30, 1, P70, "spot"),
    Row("V-401", "drum", "tori", "Instrument air receiver A", "instrument air", Y1997, 150, 66, 1, P70, "spot"),
    Row("V-402", "drum", "tori", "Instrument air receiver B", "instrument air", Y1997, 150, 66, 1, P70, "spot"),
    Row("V-403", "drum", "2:1", "Plant air receiver", "instrument air", Y1997, 150, 72, 1, P70, "spot"),
    Row("V-404", "drum", "2:1", "Nitrogen buffer drum", "nitrogen", Y1997, 250, 60, 1, P70, "full"),
    Row("V-405", "drum", "2:1", "Steam separator", "steam", Y1997, 220, 48, 1, P70, "spot"),
    Row("V-406", "drum", "2:1", "Condensate flash drum", "condensate", Y1997, 110, 60, 1, P70, "spot"),
    Row("V-407", "drum", "2:1", "Blowdown drum", "condensate", Y1997, 125, 54, 1, P70, "spot", 1.7),
    Row("V-408", "drum", "2:1", "Fuel gas drum", "propylene", Y2005, 140, 50, 1, P70, "spot"),
    Row("V-409", "drum", "2:1", "Jacketed blend drum", "solvent", Y2005, 120, 62, 1, P70, "spot"),
    Row("V-410", "drum", "2:1", "Standby nitrogen drum", "nitrogen", Y2024, 250, 60, 1, P70, "full"),
    Row("V-411", "drum", "2:1", "Hot water expansion drum", "condensate", Y2014, 120, 54, 1, P70, "spot"),
    # Jetty: unit 500, drawings in SI.
    Row("S-501", "sphere", "", "Propylene sphere A", "propylene", Y2000, bar(18), mm(12_000), 1, P70, "full"),
    Row("S-502", "sphere", "", "Propylene sphere B", "propylene", Y2000, bar(18), mm(12_000), 1, P70, "full"),
    Row("S-503", "sphere", "", "Butane sphere", "butane", Y2000, bar(8), mm(14_000), 1, P70, "full"),
    Row("V-501", "drum", "2:1", "Loading vapour drum", "butane", Y2000, bar(12), mm(1_600), 1, P70, "spot"),
    Row("V-502", "drum", "2:1", "Vaporiser drum", "propylene", Y2000, bar(18), mm(1_400), 1, P70, "spot"),
    Row("V-503", "drum", "2:1", "Jetty slops drum", "brine", Y2006, bar(9), mm(1_500), 1, P70, "spot", 1.7),
)
# fmt: on
