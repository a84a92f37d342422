"""The parts of the audit workbook that `pipeline.export` writes: cells, results, layout, inputs, plan, live rows."""
