"""The machine: stress, waves, shaft, bearings, tolerances, drive and generator.

Each module is one subject and needs no other package of physics but `arrays`. What was decided:

- Spacers hold the disc at its bore, as the plate modes (`vibration`) assume: they have the same
  hub and spokes as the disc. Spokes that bend more than the disc lower the speed of the standing
  wave; the model does not see that.
- A filament lamp is the measure of a steady supply (`load`): power goes with voltage to the 1.6.
  At fixed speed nothing regulates, and a lamp shows it.
"""
