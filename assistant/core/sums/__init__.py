"""The sums of the trade: pure, exact, typed; one file per noun.

depth      where the pinion sits: etches, targets, shims under the flange, under the head cone, behind the head cup
mesh       how backlash follows the ring gear: factors, moves, notches, the yoke
wave       readings taken round a full turn: extremes, mean, the wave once per turn
carrier    the two side shims, their sum, the cap spread
drag       torques felt at the pinion, and the spacer between its cones
figures    one quantity printed twice

Signs, the same everywhere: a mounting distance grows away from the ring-gear centre line; a ring move is positive away from the pinion
(backlash grows); a change of thickness is positive when the shim gets thicker. Lengths are whole nanometres, so a sum of readings down to
0.00001 in or 0.0001 mm loses nothing; a quotient is rounded once, at the end. Floats appear only where a formula needs an angle.
`assistant.core.worked` puts these sums behind keys and writes out their working.
"""
