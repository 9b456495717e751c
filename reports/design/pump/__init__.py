"""The casing, drawings and words of a pump, where they differ from those of a turbine.

Rotor, shaft, bearings and their plates are drawn by the modules of the turbine. What was decided,
and why:

- The collector is cut through a plate as thick as the stack: a spiral whose area grows evenly, as
  the model has it, then a straight cone that widens in the plane of the plate up to the area of the
  port. Its throat is a slot; the model's is round, and is kinder where the stack is tall.
- The spiral is four quarter circles about the corners of a square, the way spirals have long been
  set out with compasses: each edge meets the next one without a kink.
- The pump takes in through a closed ring between end plate and bearing plate, as wide as the eye
  needs; the suction is screwed into the bearing plate, the discharge into the plates at the drive.
- No shaft seal is drawn: lip or face seal, it is bought for the fluid.
"""
