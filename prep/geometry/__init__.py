"""Floor 2. Solids and what can be measured on them: read, write, rays, distance, contact, offset, sweep.

What lives here: `Solid`, and one function (or one small frozen result) a file.
What may be imported: errors, units, tables; manifold3d, trimesh, libigl, embreex, lib3mf, scikit-image, scipy, numpy.
What must not come in: materials, magnets, recipes, printing of any kind. Lengths are mm, arrays are float64.
Only this room imports the kernels.
"""
