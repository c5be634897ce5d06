"""What to bring: counts by hand from the sample layouts, amounts by multiplication, tools of the steps."""

import re

from generator.engine.quantities import WORDS, list_bring
from generator.engine.steps import plan_steps
from generator.model.procedure import Bring, Message
from tests.engine.situations import everything, shipped, situation


def brought(body: str, **options: object) -> tuple[Bring, ...]:
    case = situation(body, **options)
    return list_bring(case, plan_steps(shipped(), case)[0])


def said(message: Message) -> str:
    return re.sub(r"\{(\w+)\}", lambda name: message.values[name[1]], message.text)


def parts(items: tuple[Bring, ...]) -> list[tuple[str, str | None, str]]:
    return [(said(item.name), item.part, item.amount) for item in items if item.group != "tool"]


def test_parts_of_a_welded_frame_by_hand() -> None:
    """The sample's rows: 72 36 36 36 36 | 48 48 24 24 24 24 | 18 x 6 and two fillers; a plate on each; 19 pieces."""
    assert parts(brought("welded")) == [
        ("Frame", "SW-144x180", "1"),
        ("Block 72 mm", "SB-72", "1"),
        ("Block 48 mm", "SB-48", "2"),
        ("Block 36 mm", "SB-36", "4"),
        ("Block 24 mm", "SB-24", "4"),
        ("Block 18 mm", "SB-18", "6"),
        ("Filler 18 mm", "SF-18", "2"),
        ("Row plate", "SR-144", "3"),
        ("Clamping unit", "SC-144", "1"),
        ("Lubricant", "SL-1", "95 ml"),
    ]


def test_parts_of_two_bays_are_twice_those_of_one() -> None:
    one = {part: amount for _, part, amount in parts(brought("welded"))[1:-1]}
    two = {part: amount for _, part, amount in parts(brought("deck_two_bays"))[1:-1]}
    assert two == {part: str(2 * int(amount)) for part, amount in one.items()}


def test_parts_of_a_split_seal() -> None:
    assert parts(brought("split_seal")) == [
        ("Sleeve", "SS-68", "1"),
        ("Split seal 64 mm", "SZ-68", "1"),
        ("Lubricant", "SL-1", "5 ml"),
    ]


def test_what_is_used_up_counts_blocks_bays_or_transits() -> None:
    uses = {
        f"U-{per}": {"name": f"For each {per}", "amount": "2.5", "unit": "ml", "per": per}
        for per in ("block", "bay", "transit")
    }
    found = {part: amount for _, part, amount in parts(brought("deck_two_bays", catalogue={"consumables": uses}))}
    assert (found["U-block"], found["U-bay"], found["U-transit"]) == ("95 ml", "5 ml", "2.5 ml")


def test_every_tool_of_every_step_is_brought_once() -> None:
    for case in everything()[::7]:
        steps, _ = plan_steps(shipped(), case)
        wanted = [str(tool) for step in steps for tool in step.tools]
        tools = [str(item.name) for item in list_bring(case, steps) if item.group == "tool"]
        assert tools == [tool for at, tool in enumerate(wanted) if tool not in wanted[:at]]


def test_key_sizes_and_torques_stand_with_the_tools() -> None:
    tools = {said(item.name) for item in brought("round_frame") if item.group == "tool"}
    assert {"spanner, 13 mm", "spanner, 17 mm", "torque wrench for 12 N·m", "socket, 13 mm"} <= tools


def test_every_word_of_the_list_is_given_to_be_translated() -> None:
    assert {item.name.text for case in everything()[::7] for item in list_bring(case, ())} <= set(WORDS)
