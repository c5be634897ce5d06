"""What a drawing costs: ``python -m tests.drawing.bench_drawing`` prints CPU time; it judges nothing.

Every pack has its own tags. Their figures differ, their shapes do not, as in a job; the second line forgets
the shapes before every transit.
"""

from time import process_time

import svgwrite

from generator.drawing import blocks
from generator.drawing.front_view import draw_front
from tests import sample_packs


def _with_own_tags(number: int):  # type: ignore[no-untyped-def]
    pack = sample_packs.welded()
    names = {cable.tag: f"{cable.tag}{number}" for cable in pack.cables}
    cables = tuple(cable.model_copy(update={"tag": names[cable.tag]}) for cable in pack.cables)
    bays = tuple(
        bay.model_copy(
            update={
                "rows": tuple(
                    row.model_copy(
                        update={
                            "placements": tuple(
                                block.model_copy(update={"cable": names.get(block.cable or "", block.cable)})
                                for block in row.placements
                            )
                        }
                    )
                    for row in bay.rows
                )
            }
        )
        for bay in pack.layout.bays
    )
    layout = pack.layout.model_copy(update={"bays": bays})
    return pack.model_copy(update={"id": f"B2-{number}", "cables": cables, "layout": layout})


def bare_svgwrite() -> str:
    """Draw 180 bare elements with svgwrite: as many as one view of the sample has."""
    drawing = svgwrite.Drawing(size=(344, 400), debug=False)
    for number in range(30):
        group = drawing.g(class_="block")
        group.attribs["data-position"] = f"1.{number}"
        group.add(drawing.rect((number, number), (20, 20)))
        group.add(drawing.circle((number, number), 20))
        group.add(drawing.line((number, number), (20, 3)))
        group.add(drawing.text("A", (number, number), font_size=3))
        group.add(drawing.text("B", (number, number), font_size=3))
        drawing.add(group)
    return str(drawing.tostring())


if __name__ == "__main__":
    packs = [_with_own_tags(number) for number in range(200)]
    draw_front(packs[0], "working", str, "screen")
    began = process_time()
    size = [len(draw_front(pack, side, str, "screen")) for pack in packs for side in ("working", "far")]  # type: ignore[arg-type]
    each = (process_time() - began) / len(packs)
    print(f"both views, 22 blocks: {each * 1000:.2f} ms CPU, {sum(size) / len(size) / 1000:.1f} kB a view")
    began = process_time()
    for pack in packs:
        blocks._cable_shape.cache_clear()
        for side in ("working", "far"):
            draw_front(pack, side, str, "screen")  # type: ignore[arg-type]
    print(f"the same, no shape of block known before: {(process_time() - began) / len(packs) * 1000:.2f} ms CPU")
    began = process_time()
    for _ in range(100):
        bare_svgwrite()
    print(f"180 bare elements by svgwrite: {(process_time() - began) * 10:.2f} ms CPU")
