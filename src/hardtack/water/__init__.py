"""Water at rest: humid air, sorption isotherms, and what temperature does to them.

`air` holds the saturation lines; `isotherms` one file per isotherm form; `isotherm` evaluates an
`Isotherm` record at any temperature; `tables` hands it to the transport solver.

From the formula when nothing is measured: `composition` holds the dry matter, `solutions`, `electrolyte`,
`solubility` and `dissolved` the sugars, polyols and salts, `polymers` what does not dissolve, `sharing` puts
them together as one isotherm. `mixing` brings sealed components to rest; `glass` is the glass transition.
"""
