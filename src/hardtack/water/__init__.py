"""Water at rest: humid air, sorption isotherms, and what temperature does to them.

`air` holds the saturation lines; `isotherms` one file per isotherm form; `isotherm` evaluates an
`Isotherm` record at any temperature; `tables` hands it to the transport solver.
"""
