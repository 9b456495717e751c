"""The flow around the rim, followed in the plane of the discs: a reference for the ring model.

Compressible flow in radius and angle, averaged over the height of all gaps, in the frame at rest,
one nozzle's share of the turn. `solve.plane_flow` is the one function for a build; it takes a
quarter of a minute to two minutes and has no place in a search. What it has that the ring model
has not: jets that dive into the gaps behind their mouths, a ring that slows down on the way to the
next nozzle, shocks. What it lacks: profiles across the gap (`engine.physics.gap`), and all that
happens in three dimensions where a jet meets the edges of the discs. Nothing in it is measured.

In the order of the work: `law` (the fluid), `grid`, `mouths` (the jets), `march` (to rest, on a
coarse grid, then on the fine one), and the kernels: `flux_kernel`, `circles_kernel` and
`radii_kernel` (between cells), `ends_kernel` (bore, casing, edges), `inside_kernel` (discs,
curvature, leakage), `friction_kernel`, `march_kernel`. What was decided, why, and the number it
rests on:

- Finite volumes for mass, radial and angular momentum and total energy, so that angular momentum
  is lost to nothing but walls. Slopes are limited (van Leer), fluxes are HLLC's, Heun's method
  takes a time step of each cell's own.
- The step at the rim. Ring and gaps differ in height; the flow contracts into the gaps, with the
  loss that momentum gives, and widens suddenly where it comes out again.
- Angle. The jets have their angle where they meet the rim; on the casing it is larger.
- The jet's speed is that of the nozzle formula at the pressure found in front of the mouth. That
  is above the ring's, because the disc edges block a part of the mouth. So `rim_mixing` is not
  taken off.
- One law for all fluids. A liquid is a perfect gas whose pressure counts from a lower zero, with a
  Mach number of 0.2 (`law.law_of`).
- Cells are fine at and behind a mouth and up to three times as wide further on: 46 by 128 for two
  nozzles at a rim of 45 mm. Half as many along each length give 2.3 % less rotor torque and 4 %
  more casing torque.
- Where nozzles do not choke, their flow hangs on the pressure in front of the mouth, and that falls
  on finer grids, most of all in a liquid, whose speeds are small against the solver's speed of
  sound. Water at 0.45 bar, four nozzles, fineness 0.5, 0.7, 1, 1.3: flow 0.92, 0.94, 0.97, 0.98
  kg/s, rotor torque 280, 292, 316, 325 mN m. Torque over the square of the flow rises by 2.5 % to
  fineness 1 and no more.
- Some flows never rest: a shock or the shear layer of a jet swings. Their sums are means over the
  steps, and `swing` says how much the torque still moves.
- Speed. Cells go through the fluxes in packs of eight columns: 105 ns a cell and stage, where a
  loop over single cells took 290.
- Numbers of 60 builds: tests/physics/plane/reference.csv, which make_reference.py beside it writes.
"""
