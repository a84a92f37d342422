"""What every page, printout and export says about the use of its numbers."""

CAUTION = (
    "For review by qualified people. These results cover pressure and thinning only. They do not replace "
    "the construction code, the inspection code in force where the vessel stands, the jurisdiction, an authorised "
    "inspector or a licensed engineer. Clause numbers marked (m) are from memory: check them in a licensed copy."
)

BELOW_REQUIRED = (
    "Below required thickness: stop and refer to the owner's engineer and the jurisdiction. Options to be weighed "
    "by them: rerate, repair by weld metal or insert plate, replace, fitness-for-service assessment."
)

FIELD_WORK = (
    "Field measurements are made under permit, with the pressure, temperature, electrical and confined-space "
    "precautions of the site."
)

NOT_CONSIDERED = (
    "Not considered: wind, earthquake, saddle and piping loads, reinforcement of openings, fatigue, creep, cracking, "
    "hydrogen damage, brittle fracture, credit for cladding or lining, external pressure on cones and flat "
    "heads unless the register gives the thickness it needs."
)
