"""The drawing of each turned part that is made: fits, lengths, tolerances and notes."""

from collections.abc import Mapping

from engine.model.shaft_layout import CARRIER_PLATE, SECTIONS, SLEEVE_FLANGE
from reports.design.collars import LAND
from reports.design.drawings.dimensions import Control, Label
from reports.design.drawings.frames import Block
from reports.design.drawings.lathe import TurnedDrawing
from reports.design.facts import BuildFacts
from reports.design.fits import limits
from reports.design.keys import Key
from reports.design.ring_bolts import TUBE
from reports.design.shop_sizes import general, plain
from reports.design.turned import Keyway
from reports.design.turned_parts import TurnedPart, chamfer_of, key_of, section
from reports.kit.quantities import bare

MOST_STEPS = 8
"""Of lands that are dimensioned one by one."""
RUN_OUT = "0.01"
"""Of seats to the common axis of both bearings [mm]; common practice, no source."""
EDGES = "Edges: no burr, at most 0.2 broken (ISO 13715). Surfaces Ra 3.2, seats and faces Ra 0.8."
CAUTION = (
    "Shaft, carriers and plates are drawn for size and place. Strength, fatigue and what holds the "
    "pieces of a burst disc are not computed here: have them checked before anything turns."
)


def turned_drawing(facts: BuildFacts, made: TurnedPart, block: Block) -> TurnedDrawing:
    """Draw a turned part with everything that its maker must know."""
    find = {
        "shaft": _shaft,
        "collar": _collar,
        "inner collar": _collar,
        "stack tube": _stack_tube,
        TUBE: _pack_tube,
        "cap": _cap,
        "wear ring": _wear_ring,
        "sleeve": _sleeve,
        "free-end carrier": _carrier,
        "drive-end carrier": _carrier,
    }.get(made.name.rstrip(" 23"), _tube)
    return find(facts, made, block)


def _drawing(
    made: TurnedPart,
    block: Block,
    *,
    marks: list[Label],
    steps: list[float],
    notes: tuple[str, ...],
    zero: float | None = None,
    within: Mapping[float, str] | None = None,
    slots: tuple[Keyway, ...] = (),
    datums: tuple[tuple[str, float, float], ...] = (),
    threads: tuple[tuple[float, float, float], ...] = (),
) -> TurnedDrawing:
    first = steps[0] if zero is None else zero
    told = within or {}
    running = [
        (step, f"{plain(abs(step - first))} {told.get(step, '')}".strip())
        for step in sorted(set(steps))
    ]
    return TurnedDrawing(
        part=made.part,
        marks=marks,
        steps=running,
        notes=(*notes, EDGES, CAUTION),
        block=block,
        description=f"Half section of the {made.name}, {plain(made.part.length)} mm long",
        datums=datums,
        threads=threads,
        zero=first,
        slots=slots,
    )


def _shaft(facts: BuildFacts, made: TurnedPart, block: Block) -> TurnedDrawing:
    ends = [1e3 * float(edge) for edge in facts.layout.edges[0]]
    origin = ends[0]
    size = {name: section(facts, name) for name in SECTIONS}
    middles = {
        name: (low + high) / 2 - origin
        for name, low, high in zip(SECTIONS, ends[:-1], ends[1:], strict=True)
    }
    same = abs(size["drive seat"] - size["stack seat"]) < 1e-6
    key, hub = key_of(facts), facts.laid("hub_start") + facts.laid("hub_length") / 2 - origin
    slots = (made.part.keyway,) if made.part.keyway else ()
    drive = limits(size["drive seat"], "h5" if same else "j5")
    fits = {
        "free seat": limits(size["free seat"], "j5").text,
        "shoulder": general(size["shoulder"]),
        "body": general(size["body"]),
        "flange": general(size["flange"]),
        "stack seat": limits(size["stack seat"], "h6").text,
        "drive seat": drive.text,
    }
    out = Control("run-out", RUN_OUT, "A-B")
    marks = [
        Label(
            f"⌀{plain(size[name])} {fit}",
            middles[name],
            size[name] / 2,
            out if name in ("stack seat", "flange", "drive seat") else None,
        )
        for name, fit in fits.items()
        if not (name == "body" and size["body"] == size["shoulder"])
    ]
    thread, pitch = size["thread"], facts.laid("thread_pitch")
    marks.append(Label(f"M{plain(thread)} × {plain(pitch)} 6g", middles["thread"], thread / 2))
    if key is not None:
        told = f"keyway {key.width} P9, {key.in_shaft:g} deep"
        marks.append(Label(told, hub, 0.0))
    width = 1e3 * facts.bearing.width
    face = facts.laid("bearing_distance") - width / 2
    height = 1e3 * facts.whole_height
    steps = [end - origin for end in ends]
    floating = [height + face - origin, height + face + width - origin]
    # What sets the place of the stack, and what must not stop the nut.
    within = {
        steps[4]: "±0.05",
        steps[5]: "−0.5/−1",
        **dict.fromkeys(floating, "bearing"),
    }
    steps += floating
    if (keyway := made.part.keyway) is not None:
        within |= {keyway.start: "keyway", keyway.end: "keyway"}
        steps += [keyway.start, keyway.end]
    root, start, end = facts.laid("thread_root"), ends[5] - origin, ends[6] - origin
    journals = (
        ("A", (ends[0] + ends[1]) / 2 - origin, size["free seat"] / 2),
        ("B", height + face + width / 2 - origin, size["drive seat"] / 2),
    )
    lead = "" if same else "; its other end is chamfered to the root, so that the nut finds it"
    held = (
        "The bearing at the end of the drive sits as loose as h5 allows, so that the discs pass; "
        "hold its ring with retaining compound."
        if same
        else ""
    )
    notes = (
        (
            "A and B are the seats of the bearings. Turn all seats in one setting between centres; "
            "centre holes (ISO 6411, form A) may stay in both ends. "
            "Undercut corners (ISO 18388, F) so that bearing, clamp and nut lie flat."
        ),
        (
            f"Both ends {chamfer_of(size['drive seat']):g} × 45°. The stack goes on from the end "
            f"of the drive, against the flange. {held}"
        ).strip(),
        (
            "Lengths count from the shoulder of the bearing that locates. The thread begins inside "
            f"the clamp, so that the nut cannot stop on its end{lead}; where the floating bearing "
            f"sits is given, not made. {_of_key(key)}"
        ).strip(),
    )
    return _drawing(
        made,
        block,
        marks=marks,
        steps=steps,
        notes=notes,
        datums=journals,
        threads=((root, start, end),),
        zero=ends[1] - origin,
        within=within,
        slots=slots,
    )


def _of_key(key: Key | None) -> str:
    if key is None:
        return ""
    return f"Keyway for key {key.name}, milled after turning, its depth +0.1/0."


def _collar(facts: BuildFacts, made: TurnedPart, block: Block) -> TurnedDrawing:
    profile = made.part.profile
    bore, outside = facts.laid("collar_bore"), facts.laid("collar_diameter")
    core = 2 * profile[1][0]
    lands = [z for r, z in profile if abs(2 * r - outside) < 1e-9]
    length = made.part.length
    count = bare("seal_throttles", facts.number("seal_throttles"))
    marks = [
        Label(f"⌀{plain(bore)} {limits(bore, 'H7').text}", 0.12 * length, bore / 2),
        Label(f"⌀{plain(core)} {general(core)}", 0.3 * length, core / 2),
        Label(
            f"{count}× ⌀{plain(outside)} h6",
            (lands[0] + lands[1]) / 2,
            outside / 2,
            Control("run-out", RUN_OUT, "A-B"),
        ),
    ]
    clearance = facts.drawn("seal_clearance") * 1e3
    width = min(LAND, lands[1] - lands[0])
    plate = "end plate" if made.name == "collar" else "plates between two stages"
    notes = (
        (
            f"{count} sharp lands, each {plain(width)} wide, edges not broken. They run in "
            f"the {plate} with {plain(clearance)} radial clearance: finish them on the shaft, "
            "to the bore as measured. A-B is the axis of the shaft's bearings."
        ),
        _seat_of_collar(facts),
    )
    steps = [0.0, *lands, length] if len(lands) <= MOST_STEPS else [0.0, lands[0], length]
    return _drawing(made, block, marks=marks, steps=steps, notes=notes)


def _seat_of_collar(facts: BuildFacts) -> str:
    """Say how a collar or wear ring sits on its end clamp."""
    if facts.bolts is not None:
        return (
            "The left end lies on the outer face of the end clamp: set it true to the bore on a "
            "plug and silver-solder it, before the clamp goes on the shaft."
        )
    return (
        "Press onto the tips of the end clamp, turned to p6, with retaining compound; the left "
        "end, flush with the clamp, lies on the end disc."
    )


def _stack_tube(facts: BuildFacts, made: TurnedPart, block: Block) -> TurnedDrawing:
    profile, length = made.part.profile, made.part.length
    bore, outside = made.part.bore, made.part.diameter
    core = 2 * profile[3][0]
    edges = sorted({z for r, z in profile if abs(2 * r - outside) < 1e-9})
    lands = edges[2:-2]
    count = bare("seal_throttles", facts.number("seal_throttles"))
    marks = [
        Label(f"⌀{plain(bore)} {limits(bore, 'H7').text}", 0.15 * length, bore / 2),
        Label(f"⌀{plain(core)} {general(core)}", (edges[1] + lands[0]) / 2, core / 2),
        Label(
            f"⌀{plain(outside)} h6",
            0.85 * length,
            outside / 2,
            Control("parallelism", "0.005", "face"),
        ),
    ]
    clearance = plain(facts.drawn("seal_clearance") * 1e3)
    notes = (
        (
            f"Between the end clamps of two stacks: it passes the nut's force on. {count} sharp "
            f"lands in the middle, each {plain(lands[1] - lands[0])} wide, edges not broken, run "
            f"in the partition with {clearance} radial clearance: finish them on the shaft, to the "
            "bore as measured, run-out 0.01."
        ),
    )
    steps = [0.0, edges[1], *lands, edges[-2], length]
    if len(lands) > MOST_STEPS:
        steps = [0.0, edges[1], edges[-2], length]
    return _drawing(made, block, marks=marks, steps=steps, notes=notes, within={length: "±0.01"})


def _reamed_tube(made: TurnedPart) -> list[Label]:
    """Dimensions of a tube with a bore to fit and parallel faces."""
    bore, outside, length = made.part.bore, made.part.diameter, made.part.length
    return [
        Label(f"⌀{plain(bore)} {limits(bore, 'H7').text}", 0.3 * length, bore / 2),
        Label(
            f"⌀{plain(outside)} {general(outside)}",
            0.7 * length,
            outside / 2,
            Control("parallelism", "0.005", "face"),
        ),
    ]


def _pack_tube(facts: BuildFacts, made: TurnedPart, block: Block) -> TurnedDrawing:
    del facts
    length, marks = made.part.length, _reamed_tube(made)
    notes = (
        (
            "Between both end clamps: it passes the nut's force on. As long as the pack of discs "
            "and washers is high where its bolts are tight: measure that first. Longer, it leaves "
            "the washers loose; shorter, the nut bends the end clamps."
        ),
    )
    within = {length: "±0.01"}
    return _drawing(made, block, marks=marks, steps=[0.0, length], notes=notes, within=within)


def _cap(facts: BuildFacts, made: TurnedPart, block: Block) -> TurnedDrawing:
    del facts
    length, outside = made.part.length, made.part.diameter
    marks = [Label(f"⌀{plain(outside)} {general(outside)}", 0.5 * length, outside / 2)]
    if (bores := made.part.bores) is not None:
        told = f"{bores.count}× ⌀{plain(bores.diameter)}, {bores.count}× 120°, on ⌀"
        marks.append(Label(f"{told}{plain(bores.circle)}", 0.5 * length, bores.circle / 2))
    notes = (
        (
            "It closes the carrier at the free end, in which the pressure of the first exhaust "
            "stands; sealant under it. The shaft ends inside: nothing passes through."
        ),
    )
    return _drawing(made, block, marks=marks, steps=[0.0, length], notes=notes)


def _wear_ring(facts: BuildFacts, made: TurnedPart, block: Block) -> TurnedDrawing:
    profile = made.part.profile
    bore, outside = facts.laid("collar_bore"), facts.laid("collar_diameter")
    core, length = 2 * profile[1][0], made.part.length
    low, high = (z for r, z in profile if abs(2 * r - outside) < 1e-9)
    marks = [
        Label(f"⌀{plain(bore)} {limits(bore, 'H7').text}", 0.12 * length, bore / 2),
        Label(f"⌀{plain(core)} {general(core)}", 0.3 * length, core / 2),
        Label(
            f"⌀{plain(outside)} h6",
            (low + high) / 2,
            outside / 2,
            Control("run-out", RUN_OUT, "A-B"),
        ),
    ]
    clearance = 1e3 * facts.drawn("seal_clearance")
    notes = (
        (
            f"The land is {plain(high - low)} long and runs in the end plate with "
            f"{plain(clearance)} radial clearance: finish it on the shaft, to the bore as "
            "measured. A-B is the axis of the shaft's bearings. In water take steel that does not "
            "rust, or bronze."
        ),
        _seat_of_collar(facts),
    )
    return _drawing(made, block, marks=marks, steps=[0.0, low, high, length], notes=notes)


def _sleeve(facts: BuildFacts, made: TurnedPart, block: Block) -> TurnedDrawing:
    length, outside = made.part.length, facts.laid("sleeve_diameter")
    bore, flange = made.part.bore, facts.laid("sleeve_flange")
    parallel = Control("parallelism", "0.005", "face")
    marks = [
        Label(f"⌀{plain(bore)} {limits(bore, 'H7').text}", 0.45 * length, bore / 2),
        Label(f"⌀{plain(outside)} {general(outside)}", 0.75 * length, outside / 2, parallel),
    ]
    steps, told = [0.0, length], "Between clamp nut and floating bearing."
    if flange > outside + 1e-6:
        thick = 1e3 * SLEEVE_FLANGE
        marks.append(Label(f"⌀{plain(flange)} {general(flange)}", thick / 2, flange / 2))
        steps.append(thick)
        told += " The flange lies on the nut, where a plain end would sink into its countersink."
    notes = (f"{told} Both faces parallel, Ra 0.8.",)
    within = {length: "±0.05"}
    return _drawing(made, block, marks=marks, steps=steps, notes=notes, within=within)


def _carrier(facts: BuildFacts, made: TurnedPart, block: Block) -> TurnedDrawing:
    spigot, flange, lip = (facts.laid(f"carrier_{name}") for name in ("spigot", "diameter", "lip"))
    seat = 1e3 * facts.bearing.outside_diameter
    deep = next(z for r, z in made.part.profile if abs(2 * r - lip) < 1e-9 and z < made.part.length)
    plate, length = 1e3 * CARRIER_PLATE, made.part.length
    floats = made.name.startswith("drive")
    fit = limits(seat, "H7" if floats else "H6").text
    bores = made.part.bores
    marks = [
        Label(f"⌀{plain(seat)} {fit}", 0.2 * deep, seat / 2, Control("run-out", RUN_OUT, "A")),
        Label(f"⌀{plain(spigot)} {limits(spigot, 'h6').text}", 0.7 * plate, spigot / 2),
        Label(f"⌀{plain(flange)} {general(flange)}", plate + 0.2 * (length - plate), flange / 2),
        Label(f"⌀{plain(lip)} {general(lip)}", length - 0.1 * (length - deep), lip / 2),
    ]
    if bores is not None:
        told = f"{bores.count}× ⌀{plain(bores.diameter)}, {bores.count}× 120°, on ⌀"
        middle = plate + 0.6 * (length - plate)
        marks.append(Label(f"{told}{plain(bores.circle)}", middle, bores.circle / 2))
    room = plain(facts.laid("spring_room"))
    use = (
        f"The outer ring floats in it, pressed by a spring washer in the last {room} of the seat."
        if floats
        else "The outer ring lies against its bottom: this bearing locates the shaft."
    )
    datums = (("A", 0.75 * plate, spigot / 2),)
    notes = (use, "Seat and spigot in one setting. Flange square to the spigot within 0.01.")
    return _drawing(
        made,
        block,
        marks=marks,
        steps=[0.0, deep, plate, length],
        notes=notes,
        within={deep: "±0.05", plate: "±0.05"} if deep != plate else {deep: "±0.05"},
        datums=datums,
    )


def _tube(facts: BuildFacts, made: TurnedPart, block: Block) -> TurnedDrawing:
    del facts
    length = made.part.length
    marks = [
        Label(f"⌀{plain(made.part.bore)} +0.2/0", 0.3 * length, made.part.bore / 2),
        Label(
            f"⌀{plain(made.part.diameter)}",
            0.7 * length,
            made.part.diameter / 2,
            Control("parallelism", "0.01", "face"),
        ),
    ]
    stands = "around a hole between two plates, sealant on both faces"
    stands = stands if made.name.startswith(("supply", "passage")) else "on a bolt between plates"
    notes = (f"Stands {stands}. All of one length within 0.02.",)
    within = {length: "±0.05"}
    return _drawing(made, block, marks=marks, steps=[0.0, length], notes=notes, within=within)
