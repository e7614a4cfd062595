"""Floor 3. One law a file: closed form, cited, plain numbers and arrays in and out.

What lives here: magnetism (`pull_force`, `block_pull`, `magnet_field`, `flux_index`, `device_distance`),
`packing` and `print_mass`; light (`fresnel`, `transmission`, `lambert`, `flat_field`), circuits (`led_circuit`,
`resistor`) and `pocket_heat`. A quantity's unit is in its name; B is in tesla, forces in newton.
What may be imported: errors, tables, geometry; numpy, scipy.
What must not come in: solids' kernels, recipes, steps.
"""
