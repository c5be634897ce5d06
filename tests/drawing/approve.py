"""Write the approved drawings anew: ``python -m tests.drawing.approve``. Look at every one that changed."""

from collections.abc import Callable, Iterator
from pathlib import Path

from generator.drawing.front_view import draw_front
from generator.drawing.wall_view import Paper, draw_on_paper, draw_wall
from tests import sample_packs
from tests.drawing.test_wall_view import HELD, TEN

APPROVED = Path(__file__).parent / "approved"


def drawings() -> Iterator[tuple[str, Callable[[], str]]]:
    """Return every approved drawing by the name of its file."""
    for make in sample_packs.ALL:
        for side in ("working", "far"):
            for medium in ("screen", "card"):
                name = f"{make.__name__}-{side}-{medium}.svg"
                yield name, lambda make=make, side=side, medium=medium: draw_front(make(), side, str, medium)  # type: ignore[misc]
    for room in sample_packs.WALL.sides:
        name = f"wall-{room.lower().replace(' ', '-')}.svg"
        yield name, lambda room=room: draw_wall("W3", sample_packs.WALL, TEN, room, str)  # type: ignore[misc]
        name = f"wall-kept-{room.lower().replace(' ', '-')}.svg"
        yield name, lambda room=room: draw_wall("W3", HELD, TEN, room, str)  # type: ignore[misc]
    yield "wall-kept-paper.svg", lambda: draw_on_paper("W3", HELD, TEN, str, Paper("A4", 277, 88))[0]


def shown(svg: str) -> str:
    """Return a drawing with an element a line, so that a change is read as a change."""
    return svg.replace("><", ">\n<") + "\n"


if __name__ == "__main__":
    APPROVED.mkdir(exist_ok=True)
    for name, draw in drawings():
        (APPROVED / name).write_text(shown(draw()), encoding="utf-8", newline="\n")
        print(name)
