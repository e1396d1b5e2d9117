"""What is believed about the axle on the bench: each file holds one belief, which predicts a reading and its spread.

All of them are frozen values: `observe` gives a new one. Floats live in here and nowhere else; a caller turns exact quantities into the unit that
a belief names (micrometres; newton-metres) and never says, stores or compares with a spec what comes back without rounding it first.

    BacklashBelief.start(ratio=, noise_um=, k_ring=, base=, runout_um=, lead_spread=, seating_um=)
        .observe(ring_um, pinion_um, degrees, value_um, noise_um=None, assembly=0)
        .predict(ring_um, pinion_um, degrees, assembly=None) -> Normal
        .predict_mean(ring_um, pinion_um, spots, assembly=None) -> Normal;  .predict_any(...) -> Outlook
        .chance(ring_um, pinion_um, spots, low_um, high_um, variation_um=None, judge="all", assembly=None) -> float
        .k_ring, .k_pinion -> Normal;  .explain() -> LearnedBacklash
    DepthBelief.start(lay=, stack_um=, guess=, noise_um=, response=, seating_um=)
        .observe(stack_um, value_um, noise_um=None, assembly=0)
        .predict(stack_um, assembly=None) -> Normal;  .chance(stack_um, low_um, high_um, assembly=None) -> float
        .response -> Normal;  .response_seen -> Normal | None;  .explain() -> LearnedDepth
    DragBelief.spacer(pack_um) | .outside_shims(pack_um) | .sleeve() | .side_shims(total_um) | .adjusters()
        .observe(at, drag, noise, assembly=0)
        .predict(at, noise) -> Outlook (.mean .spread .normal .chance(low, high) .quantile(share) .interval(share))
        .chances(candidates, low, high, noise) -> tuple[float, ...];  .slope(at) -> Normal;  .contact_now -> Normal;  .explain() -> LearnedDrag
    CarrierBelief.adjusters(ratio, seal) | .side_shims(ratio, total_um, seal)
        .observe_carrier(ring_side, opposite, drag, noise, assembly=0);  .observe_total(ring_side, opposite, total, noise, pinion, assembly=0)
        .predict_carrier(ring_side, opposite, noise) -> Outlook;  .predict_total(ring_side, opposite, pinion, noise) -> Outlook;  .explain()
    carrier.ring_move(ring_side, opposite, per) | tightness(ring_side, opposite)

`assembly` is any whole number that changes whenever the parts were moved or taken apart: the readings of one assembly share what it brought.
A prediction without it (or with another one) is for an assembly still to be made, and wider.
"""
