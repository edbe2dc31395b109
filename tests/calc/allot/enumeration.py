"""Every way to share out small shelves, tried: who can be served, and with how few lots.

For cones and needs of whole yards, one grist, nothing kept back and no buffers. Weft goes to any cone of its lot, so
that after the warps only what is left of each lot counts; weft that has to be of one cone is taken of it like warp.
"""

from itertools import product

from tests.calc.plans import YD


def best(projects, packages):
    """Who is served, project by project in their order, and by shade the fewest lots of the served: mixed warps, lots of
    warp, of weft, and of both."""
    served = []
    ways = {shade: {_whole(packages, shade): (0, 0, 0, 0)} for shade in {one.shade_id for one in packages}}
    for asked in projects:
        found = {}
        for one in asked:
            shade = one.shade_id
            found[shade] = _with(one, found.get(shade, ways.get(shade, {((), ()): (0, 0, 0, 0)})), packages)
            if not found[shade]:
                break
        else:
            served.append(asked[0].project_id)
            ways |= found
    return served, {shade: min(states.values()) for shade, states in ways.items()}


def _whole(packages, shade):
    """What is left of each cone, and what of it weft of each lot has a claim on."""
    cones = [package for package in packages if package.shade_id == shade]
    return tuple(package.free_mg // 1000 for package in cones), tuple((lot, 0) for lot in _lots(cones))


def _lots(cones):
    return list(dict.fromkeys(package.of_lot for package in cones))


def _with(one, states, packages):
    cones = [package for package in packages if package.shade_id == one.shade_id]
    lots = _lots(cones)
    options = list(_options(one, cones, lots))
    found = {}
    for (left, weft), cost in states.items():
        for cut, woven, lots_of_it in options:
            rest = tuple(have - taken for have, taken in zip(left, cut, strict=True))
            claimed = tuple((lot, sum_ + woven.get(lot, 0)) for lot, sum_ in weft)
            if min(rest, default=0) < 0 or any(
                sum_ > sum(have for have, cone in zip(rest, cones, strict=True) if cone.of_lot == lot)
                for lot, sum_ in claimed
            ):
                continue
            total = tuple(a + b for a, b in zip(cost, lots_of_it, strict=True))
            found[rest, claimed] = min(total, found.get((rest, claimed), total))
    return found


def _options(one, cones, lots):
    """Yards by cone, yards of weft by lot, and the lots that this takes."""
    need = one.need
    warp, piece, sample = one.warp_um // YD, need.weft_piece_um // YD, need.weft_sample_um // YD
    able = [
        (need.wish != "lot" or cone.lot == need.wish_lot_id)
        and (need.wish != "cone" or cone.id == need.wish_cone_id)
        for cone in cones
    ]
    most = [
        min(need.ends, cone.free_mg // 1000 // warp) if can else 0
        for cone, can in zip(cones, able, strict=True)
    ]
    open_lots = [
        lot for lot in lots if any(can and cone.of_lot == lot for cone, can in zip(cones, able, strict=True))
    ]
    pieces = one.pieces if piece else 0
    wefts = [
        {
            lot: number * piece + (lot == with_sample) * sample
            for lot, number in zip(open_lots, numbers, strict=True)
            if number * piece + (lot == with_sample) * sample
        }
        for numbers in product(range(pieces + 1), repeat=len(open_lots))
        if sum(numbers) == pieces
        for with_sample in (open_lots if sample else [None])
    ]
    if sample and not open_lots:
        return
    for ends in product(*(range(number + 1) for number in most)):
        if sum(ends) != need.ends:
            continue
        warp_lots = {cone.of_lot for cone, number in zip(cones, ends, strict=True) if number}
        cut = [number * warp for number in ends]
        for weft in wefts:
            both = warp_lots | weft.keys()
            if need.wish == "same" and len(both) > 1:
                continue
            counts = (int(len(warp_lots) > 1), len(warp_lots), len(weft), len(both))
            if need.wish == "cone":
                at = [cone.id for cone in cones].index(need.wish_cone_id)
                yield [*cut[:at], cut[at] + sum(weft.values()), *cut[at + 1 :]], {}, counts
            else:
                yield cut, weft, counts
