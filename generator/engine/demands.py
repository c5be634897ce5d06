"""What the wall demands against what the certificate says. Nothing here approves anything.

Ratings of unlike systems are never compared: who may set them against each other is the approving authority. Within
one system the rules are those below, each with its source. A condition that the certificate does not state is no
condition; one that it states and the job says nothing about can't be compared.
"""

import math
from collections.abc import Callable, Iterator
from decimal import Decimal

from generator.engine.fixing import Held, held
from generator.errors import Finding
from generator.model.catalogue import Catalogue, Certificate, Cover
from generator.model.comparison import ComparedLine, Comparison, DemandKind, Verdict
from generator.model.job import Cable, Demands, Transit, Wall
from generator.model.layout import AnyLayout, Layout
from generator.model.names import FIXINGS, MATERIALS
from generator.model.procedure import Message
from generator.model.ratings import FireClass, IpCode, LeakUnit, LRating, fire_class, ip_codes
from generator.model.scalars import format_mm


def _(text: str) -> str:
    return text


STANDARD_GRAVITY = Decimal("9.80665")
"""m/s²."""
WATER_DENSITIES = {"fresh": Decimal(1000), "sea": Decimal(1025)}
"""kg/m³; a head is held against a pressure at both, since the wall does not say which water it is."""

_ASK = _("The two systems can't be compared: ask the approving authority.")


# -- ratings ---------------------------------------------------------------------------------------


def compare_fire(demand: str, certificate: str) -> tuple[Verdict, Message | None]:
    """Hold a fire class of a certificate against one that is demanded, both as text.

    Ships (2010 FTP Code, Annex 1 Part 3, 3.1): within a letter a longer time covers a shorter; B never covers A, and
    A never H. Buildings (EN 13501-2, 7.5.8: seals have E and I): a longer time covers a shorter, EI covers E, E never
    EI; R belongs to the wall. UL 1479: F against F, and T against T where one is demanded. The ends of pipes that a
    class names are not looked at here: ``compare_ends``.
    """
    need, have = fire_class(demand), fire_class(certificate)
    if need.system != have.system:
        return "not comparable", Message(text=_ASK)
    if need.system == "firestop":
        return _firestop(need, have)
    if need.system == "building":
        if "I" in need.letters and "I" not in have.letters:
            return "not covered", Message(text=_("E says nothing about heat."))
    elif need.letters != have.letters:
        if (need.letters, have.letters) in (("A", "B"), ("H", "A")):
            return "not covered", Message(text=_("The fire of its test was a lesser one."))
        return "not comparable", Message(text=_ASK)
    if have.minutes < need.minutes:
        return "not covered", Message(text=_("Its time is shorter."))
    return "covered", Message(text=_("R is the wall's own affair.")) if need.letters == "REI" else None


def _firestop(need: FireClass, have: FireClass) -> tuple[Verdict, Message | None]:
    if have.minutes < need.minutes:
        return "not covered", Message(text=_("Its F rating is shorter."))
    if need.insulated is not None and (have.insulated is None or have.insulated < need.insulated):
        missing = have.insulated is None
        return "not covered", Message(text=_("It has no T rating.") if missing else _("Its T rating is shorter."))
    return "covered", None


def compare_ends(demand: str | None, certificate: str | None) -> tuple[Verdict, Message | None]:
    """Hold the ends of pipes in a certificate's test against those demanded: U open, C closed; None where not stated.

    EN 1366-3, from memory: an end that was open in the test covers one that is closed, never the other way. Each end
    is held for itself, so a class of which one end is harsher and the other milder is left to the authority.
    """
    if certificate is None:
        return "not comparable", Message(text=_("It says nothing of the ends of pipes."))
    if demand is None and certificate != "U/U":
        return "not comparable", Message(text=_("The wall does not say whether the ends of pipes are open."))
    pairs = list(zip((demand or "U/U").split("/"), certificate.split("/"), strict=True))
    if all(have in ("U", need) for need, have in pairs):
        return "covered", None
    if any((need, have) == ("C", "U") for need, have in pairs):
        return "not comparable", Message(text=_("One end is harsher, the other milder: ask the approving authority."))
    return "not covered", Message(text=_("An end that is open was closed in its test."))


FOOT = Decimal("0.3048")
"""m, exactly."""
_METRIC: dict[LeakUnit, tuple[Decimal, bool]] = {
    "cfm/ft2": (60 * FOOT, True),
    "m3/h/m2": (Decimal(1), True),
    "cfm": (60 * FOOT**3, False),
    "m3/h": (Decimal(1), False),
}
"""What one of each unit is in m³/h, and whether it is for each area (then in m³/(h·m²))."""


def metric_leak(rate: Decimal, unit: LeakUnit) -> Decimal:
    """Return a rate of leakage in m³/h, or in m³/(h·m²) where it is for each area: 1 ft = 0.3048 m, 1 h = 60 min."""
    return rate * _METRIC[unit][0]


def compare_air(
    need: tuple[Decimal, LeakUnit], have: tuple[Decimal | None, LeakUnit]
) -> tuple[Verdict, Message | None]:
    """Hold one rate of an L rating (UL 1479: air leakage) against the most that is demanded, at one temperature.

    A rate at another temperature is no answer, and a rate for each area none for a whole seal: how much of the
    opening counts is not ours to say.
    """
    (most, unit), (rate, given) = need, have
    if rate is None:
        return "not covered", Message(text=_("It has no L rating at this temperature."))
    if _METRIC[unit][1] != _METRIC[given][1]:
        why = _("One is for each area of opening, the other for the whole seal: ask the approving authority.")
        return "not comparable", Message(text=why)
    if metric_leak(rate, given) <= metric_leak(most, unit):
        return "covered", None
    return "not covered", Message(text=_("More air leaks."))


def compare_ip(demand: str, certificate: str) -> tuple[Verdict, Message | None]:
    """Hold ingress codes against each other: every numeral demanded must be covered by one of the certificate's.

    IEC 60529, clause 6: up to 6 the second numeral covers the lower ones; 7, 8 and 9 cover neither 5 nor 6 (from
    memory). 8 covers 7, since it is agreed to be more severe. 9 stands alone.
    """
    have = ip_codes(certificate)
    verdict: Verdict = "covered"
    why = None
    for need in ip_codes(demand):
        if need.solid is not None and not any(code.solid is not None and code.solid >= need.solid for code in have):
            verdict, why = "not covered", Message(text=_("Its first numeral is lower."))
        elif need.water is not None and not any(_keeps_out(code, need.water) for code in have):
            higher = any((code.water or 0) > need.water for code in have)
            text = _("7, 8 and 9 do not cover lower numerals.") if higher else _("Its second numeral is lower.")
            verdict, why = "not covered", Message(text=text)
    return verdict, why


def _keeps_out(code: IpCode, need: int) -> bool:
    if code.water is None:
        return False
    if need <= 6:
        return need == 0 or need <= code.water <= 6
    return code.water == need or (need, code.water) == (7, 8)


def bar_of_head(head_m: Decimal, density: Decimal) -> Decimal:
    """Return the pressure in bar under ``head_m`` of water of ``density`` kg/m³: p = ρ · g · h."""
    return density * STANDARD_GRAVITY * head_m / 100_000


def compare_water(
    demand: tuple[Decimal | None, Decimal | None], certificate: tuple[Decimal | None, Decimal | None]
) -> tuple[Verdict, Message | None]:
    """Hold water against water, each as (head in m, pressure in bar) with one of the two given.

    A head against a pressure is judged for fresh and for sea water; where these differ nobody can tell.
    """
    if (demand[0] is None) == (certificate[0] is None):
        need, have = demand[0] or demand[1], certificate[0] or certificate[1]
        assert need is not None and have is not None
        verdicts = {have >= need}
    else:
        verdicts = {_in_bar(certificate, density) >= _in_bar(demand, density) for density in WATER_DENSITIES.values()}
    if len(verdicts) > 1:
        return "not comparable", Message(
            text=_("It depends on whether the water is fresh or salt: ask for one unit.")
        )
    return ("covered", None) if verdicts.pop() else ("not covered", Message(text=_("It holds less water.")))


def _in_bar(water: tuple[Decimal | None, Decimal | None], density: Decimal) -> Decimal:
    head, bar = water
    if head is not None:
        return bar_of_head(head, density)
    assert bar is not None
    return bar


# -- a transit -------------------------------------------------------------------------------------


def compare_demands(
    transit: Transit, wall: Wall, catalogue: Catalogue, cables: tuple[Cable, ...], layout: AnyLayout
) -> tuple[Comparison, ...]:
    """Set every demand of a wall beside what the certificate of its frame or split seal says; () without demands.

    Lengths in mm, areas in mm². Of several items that give a rating the one that comes nearest is shown.
    """
    demands = wall.demands
    if not demands.any:
        return ()
    return tuple(_Compared(transit, wall, catalogue, cables, layout).all())


class _Compared:
    """One transit, while it is compared."""

    def __init__(
        self, transit: Transit, wall: Wall, catalogue: Catalogue, cables: tuple[Cable, ...], layout: AnyLayout
    ) -> None:
        self.transit, self.wall, self.catalogue, self.cables, self.layout = transit, wall, catalogue, cables, layout
        self.held: Held = held(transit, catalogue)
        self.certificate: Certificate | None = self.held.certificate
        self.first = transit.working_side == wall.sides[0]

    def all(self) -> Iterator[Comparison]:
        demands = self.wall.demands
        if demands.fire:
            yield self._kind("fire", Message(text=_("Fire: {rating}"), values={"rating": demands.fire}))
        if demands.l_rating:
            first = "ambient" if demands.l_rating.ambient is not None else "hot"
            yield self._kind("air", _air(demands.l_rating, first))
        if demands.w_rating:
            yield self._kind("w", Message(text=_("Water: a W rating")))
        if demands.water:
            yield self._kind("water", _water(demands.water_head_m, demands.water_bar))
        if demands.gas:
            yield self._kind("gas", _gas(demands.gas_mbar))
        if demands.ip:
            yield self._kind("ip", Message(text=_("Ingress: {rating}"), values={"rating": demands.ip}))
        for words in demands.other:
            yield Comparison(
                about="other",
                lines=(
                    _line(
                        Message(text="{words}", values={"words": words}),
                        _("words are not compared"),
                        "not comparable",
                        Message(text=_("Read the certificate.")),
                    ),
                ),
            )
        if self.certificate and self.certificate.until:
            yield Comparison(about="validity", lines=(self._valid(),))

    def _valid(self) -> ComparedLine:
        assert self.certificate and self.certificate.until
        until = self.certificate.until
        says = Message(text=_("valid until {day}"), values={"day": until.isoformat()})
        day = self.transit.day
        if day is None:
            return _line(Message(text=_("no day is planned")), says, "not comparable", None)
        planned = Message(text=_("planned for {day}"), values={"day": day.isoformat()})
        if day > until:
            return _line(planned, says, "not covered", Message(text=_("It has run out by then.")))
        return _line(planned, says, "covered", None)

    def _kind(self, about: DemandKind, demand: Message) -> Comparison:
        if self.certificate is None:
            why = Message(text=_("Ask for one."))
            return _single(about, demand, _("the catalogue names no certificate"), "not comparable", why)
        if not self.certificate.covers:
            return _single(about, demand, _("in words only"), "not comparable", Message(text=_("Read it.")))
        found = [tuple(self._lines(about, demand, cover)) for cover in self.certificate.covers if _is(cover, about)]
        # What is of the same system rules, even where it falls short of what is of another.
        alike = [lines for lines in found if lines[0].verdict != "not comparable"] or found
        if alike:
            return Comparison(about=about, lines=min(alike, key=_distance))
        return self._silent(about, demand)

    def _silent(self, about: DemandKind, demand: Message) -> Comparison:
        assert self.certificate
        for it_is, says, why in _UNLIKE.get(about, ()):
            if any(it_is(cover) for cover in self.certificate.covers):
                return _single(about, demand, says, "not comparable", Message(text=why))
        return _single(about, demand, _("nothing"), "not covered", None)

    # -- one item of the certificate -----------------------------------------------------------------

    def _lines(self, about: DemandKind, demand: Message, cover: Cover) -> Iterator[ComparedLine]:
        demands = self.wall.demands
        if about == "fire":
            assert demands.fire and cover.fire
            rating = Message(text="{rating}", values={"rating": cover.fire})
            yield _line(demand, rating, *compare_fire(demands.fire, cover.fire))
            yield from self._pipes_ends(fire_class(demands.fire), fire_class(cover.fire))
        elif about == "air":
            assert demands.l_rating and cover.l_rating
            yield from _leaks(demands.l_rating, cover.l_rating)
        elif about == "w":
            yield _line(demand, _("a W rating"), "covered", None)
        elif about == "ip":
            assert demands.ip and cover.ip
            yield _line(
                demand, Message(text="{rating}", values={"rating": cover.ip}), *compare_ip(demands.ip, cover.ip)
            )
        elif about == "water":
            needs, has = (demands.water_head_m, demands.water_bar), (cover.water_head_m, cover.water_bar)
            yield _line(demand, _water(*has), *compare_water(needs, has))
        else:
            assert cover.gas_mbar is not None
            yield _line(demand, _gas(cover.gas_mbar), *_compare_gas(demands, cover.gas_mbar))
        if about in ("w", "water", "gas"):
            yield self._pressed(cover)
        yield from self._wall_conditions(cover)
        yield from self._body_conditions(cover)

    def _pipes_ends(self, need: FireClass, have: FireClass) -> Iterator[ComparedLine]:
        if need.system != have.system or not (need.ends or have.ends):
            return
        unstated = Message(text=_("the ends of pipes are not stated"))
        says = (
            Message(text=_("tested with pipes' ends {ends}"), values={"ends": have.ends}) if have.ends else unstated
        )
        if not any(cable.service == "pipe" for cable in self.cables):
            yield _line(Message(text=_("no pipe passes")), says, "covered", None)
            return
        here = Message(text=_("pipes with ends {ends}"), values={"ends": need.ends}) if need.ends else unstated
        yield _line(here, says, *compare_ends(need.ends, have.ends))

    def _pressed(self, cover: Cover) -> ComparedLine:
        room = self.wall.demands.pressure_from
        here = Message(text=_("from {room}"), values={"room": room}) if room else Message(text=_("from either side"))
        if cover.pressure_from is None:
            why = Message(text=_("It may come from the other side."))
            return _line(here, _("no side is stated"), "not comparable", why)
        says = Message(text=_FROM[cover.pressure_from])
        working = self.transit.working_side
        wanted = "either side" if room is None else "working side" if room == working else "far side"
        if cover.pressure_from in ("either side", wanted):
            return _line(here, says, "covered", None)
        return _line(here, says, "not covered", Message(text=_("It presses from another side.")))

    def _wall_conditions(self, cover: Cover) -> Iterator[ComparedLine]:
        wall = self.wall
        if cover.divisions:
            yield _one_of(_DIVISIONS[wall.division], [_DIVISIONS[name] for name in cover.divisions])
        if cover.materials:
            yield _one_of(MATERIALS[wall.material], [MATERIALS[name] for name in cover.materials])
        if cover.thickness:
            least, most = cover.thickness.least, cover.thickness.most
            values = {"least": format_mm(least), "most": format_mm(most or least)}
            says = Message(
                text=_("{least} to {most} mm thick") if most else _("{least} mm thick or more"), values=values
            )
            fits = least <= wall.thickness and (most is None or wall.thickness <= most)
            here = Message(text=_("{thickness} mm thick"), values={"thickness": format_mm(wall.thickness)})
            yield _line(here, says, "covered" if fits else "not covered", None)
        if cover.insulated:
            yield from self._insulated(cover)

    def _insulated(self, cover: Cover) -> Iterator[ComparedLine]:
        insulation = self.wall.insulation
        side = cover.insulated or "either side"  # a word of the file's, no message: not in the call
        says = Message(text=_INSULATED[side])
        if insulation is None:
            why = Message(text=_("The certificate asks for it."))
            yield _line(Message(text=_("no insulation is stated")), says, "not comparable", why)
            return
        rooms = Message(text=_("insulated in {rooms}"), values={"rooms": ", ".join(insulation.sides)})
        working = self.transit.working_side in insulation.sides
        far = any(room != self.transit.working_side for room in insulation.sides)
        fits = {"working side": working, "far side": far, "either side": True, "both sides": working and far}
        yield _line(rooms, says, "covered" if fits[side] else "not covered", None)
        if cover.insulated_mm is None:
            return
        says = Message(text=_("over at least {length} mm"), values={"length": format_mm(cover.insulated_mm)})
        if insulation.length is None:
            yield _line(Message(text=_("its length is not stated")), says, "not comparable", None)
            return
        here = Message(text=_("over {length} mm"), values={"length": format_mm(insulation.length)})
        yield _line(here, says, "covered" if insulation.length >= cover.insulated_mm else "not covered", None)

    def _body_conditions(self, cover: Cover) -> Iterator[ComparedLine]:
        if cover.fixings:
            yield _one_of(FIXINGS[self.transit.fixing], [FIXINGS[name] for name in cover.fixings])
        frame = self.catalogue.frames.get(self.transit.frame or "")
        if frame and cover.frame_width is not None:
            here, says = _("frame {size} mm wide"), _("up to {size} mm wide")
            yield _at_most(here, says, "size", frame.width, cover.frame_width)
        if frame and cover.frame_height is not None:
            here, says = _("frame {size} mm high"), _("up to {size} mm high")
            yield _at_most(here, says, "size", frame.height, cover.frame_height)
        if cover.conductor_mm2 is not None:
            yield self._conductors(cover.conductor_mm2)
        if cover.fill_percent is not None:
            share = self._fill()
            yield _at_most(
                _("cables take {share} % of the clear area"), _("up to {share} %"), "share", share, cover.fill_percent
            )

    def _conductors(self, limit: Decimal) -> ComparedLine:
        says = Message(text=_("conductors up to {area} mm²"), values={"area": format_mm(limit)})
        cables = [cable for cable in self.cables if cable.service not in ("pipe", "fibre")]
        unknown = [cable.tag for cable in cables if cable.conductor_mm2 is None]
        known = [cable.conductor_mm2 for cable in cables if cable.conductor_mm2 is not None]
        if (known and max(known) > limit) or not unknown:
            largest = max(known, default=Decimal(0))
            here = Message(text=_("largest conductor {area} mm²"), values={"area": format_mm(largest)})
            return _line(here, says, "covered" if largest <= limit else "not covered", None)
        here = Message(text=_("the conductors of {cable} are not in the schedule"), values={"cable": unknown[0]})
        return _line(here, says, "not comparable", None)

    def _fill(self) -> Decimal:
        """Return the share of the fullest bay (or of the seal) that cables take at their thickest, percent."""
        area = {cable.tag: Decimal(math.pi) / 4 * cable.most**2 for cable in self.cables}
        if self.transit.split_seal:
            diameter = self.catalogue.split_seals[self.transit.split_seal].diameter
            return _percent(sum(area.values(), Decimal(0)) / (Decimal(math.pi) / 4 * diameter**2))
        bays = self.catalogue.frames[self.transit.frame or ""].bays
        if not isinstance(self.layout, Layout):
            return _percent(sum(area.values(), Decimal(0)) / sum(bay.width * bay.height for bay in bays))
        shares = [
            sum((area[tag] for p in laid.placements for tag in p.cables), Decimal(0)) / (laid.width * laid.height)
            for laid in self.layout.bays
        ]
        return _percent(max(shares))


_FROM = {
    "working side": _("from the working side"),
    "far side": _("from the far side"),
    "either side": _("from either side"),
    "both sides": _("from both sides"),
}
_INSULATED = {
    "working side": _("insulated on the working side"),
    "far side": _("insulated on the far side"),
    "either side": _("insulated on either side"),
    "both sides": _("insulated on both sides"),
}
_DIVISIONS = {"wall": _("wall"), "bulkhead": _("bulkhead"), "deck": _("deck"), "cabinet": _("cabinet side")}


def _single(about: DemandKind, wall: Message, certificate: str, verdict: Verdict, why: Message | None) -> Comparison:
    return Comparison(about=about, lines=(_line(wall, certificate, verdict, why),))


def _line(wall: Message, certificate: Message | str, verdict: Verdict, why: Message | None) -> ComparedLine:
    says = Message(text=certificate) if isinstance(certificate, str) else certificate
    return ComparedLine(wall=wall, certificate=says, verdict=verdict, why=why)


def _one_of(here: str, allowed: list[str]) -> ComparedLine:
    verdict: Verdict = "covered" if here in allowed else "not covered"
    if len(allowed) == 1:
        return _line(Message(text=here), allowed[0], verdict, None)
    return _line(Message(text=here), Message(text="{names}", values={"names": ", ".join(allowed)}), verdict, None)


def _at_most(here: str, says: str, name: str, value: Decimal, limit: Decimal) -> ComparedLine:
    return _line(
        Message(text=here, values={name: format_mm(value)}),
        Message(text=says, values={name: format_mm(limit)}),
        "covered" if value <= limit else "not covered",
        None,
    )


def _percent(share: Decimal) -> Decimal:
    """Round up to a tenth: a bay is never said to be emptier than it is."""
    return (share * 100).quantize(Decimal("0.1"), rounding="ROUND_CEILING")


def _water(head_m: Decimal | None, bar: Decimal | None) -> Message:
    if bar is not None:
        return Message(text=_("Water: {bar} bar"), values={"bar": format_mm(bar)})
    assert head_m is not None
    low, high = (bar_of_head(head_m, density).quantize(Decimal("0.001")) for density in WATER_DENSITIES.values())
    return Message(
        text=_("Water: {head} m ({low} bar fresh, {high} bar sea water)"),
        values={"head": format_mm(head_m), "low": format_mm(low), "high": format_mm(high)},
    )


def _air(leak: LRating, at: str) -> Message:
    rate = leak.ambient if at == "ambient" else leak.hot
    assert rate is not None
    text = _AIR[at]
    return Message(text=text, values={"rate": leak.rate_text(rate)})


_AIR = {"ambient": _("Air that leaks: L {rate} at most"), "hot": _("Air that leaks when hot: L {rate} at most")}
_LEAKS = {"ambient": _("L {rate}"), "hot": _("L {rate} when hot")}


def _leaks(need: LRating, have: LRating) -> Iterator[ComparedLine]:
    for at, most, rate in (("ambient", need.ambient, have.ambient), ("hot", need.hot, have.hot)):
        if most is None:
            continue
        verdict, why = compare_air((most, need.unit), (rate, have.unit))
        says = Message(text=_("no L rating at this temperature"))
        if rate is not None:
            says = Message(text=_LEAKS[at], values={"rate": have.rate_text(rate)})
        yield _line(_air(need, at), says, verdict, why)


def _gas(mbar: Decimal | None) -> Message:
    if mbar is None:
        return Message(text=_("Gas, at no stated pressure"))
    return Message(text=_("Gas at {pressure} mbar"), values={"pressure": format_mm(mbar)})


def _compare_gas(demands: Demands, mbar: Decimal) -> tuple[Verdict, Message | None]:
    if demands.gas_mbar is None:
        return "not comparable", Message(text=_("The wall states no pressure."))
    return ("covered", None) if mbar >= demands.gas_mbar else ("not covered", Message(text=_("It holds less gas.")))


def _is(cover: Cover, about: DemandKind) -> bool:
    given = {
        "fire": cover.fire is not None,
        "air": cover.l_rating is not None,
        "w": cover.w_rating,
        "water": cover.water_head_m is not None or cover.water_bar is not None,
        "gas": cover.gas_mbar is not None,
        "ip": cover.ip is not None,
    }
    return given[about]


def _is_immersed(cover: Cover) -> bool:
    return cover.ip is not None and any((code.water or 0) >= 7 for code in ip_codes(cover.ip))


_IP_ONLY = (_is_immersed, _("an ingress code only"))
_UNLIKE: dict[DemandKind, tuple[tuple[Callable[[Cover], bool], str, str], ...]] = {
    "water": (
        (*_IP_ONLY, _("An ingress code is no head of water.")),
        (
            lambda cover: cover.w_rating,
            _("a W rating only"),
            _("A W rating is of another test: ask the approving authority."),
        ),
    ),
    "w": (
        (
            lambda cover: _is(cover, "water"),
            _("a head of water or a pressure only"),
            _("A W rating is of another test: ask the approving authority."),
        ),
        (*_IP_ONLY, _("An ingress code is no W rating.")),
    ),
    "gas": (
        (
            lambda cover: _is(cover, "air"),
            _("an L rating only"),
            _("What leaks is measured by another test: ask the approving authority."),
        ),
    ),
    "air": (
        (
            lambda cover: _is(cover, "gas"),
            _("tight against gas only"),
            _("What leaks is measured by another test: ask the approving authority."),
        ),
    ),
}
"""What of a certificate looks like an answer to a demand and is none, being of another system."""


def _distance(lines: tuple[ComparedLine, ...]) -> tuple[int, int]:
    """Return how far an item is from covering: first what it does not cover, then what can't be compared."""
    verdicts = [line.verdict for line in lines]
    return verdicts.count("not covered"), verdicts.count("not comparable")


# -- problems --------------------------------------------------------------------------------------


def judge_demands(
    transit: Transit, wall_id: str, catalogue: Catalogue, comparisons: tuple[Comparison, ...]
) -> tuple[Finding, ...]:
    """Find what a certificate does not cover, which stops the work, and what nobody can compare.

    A paper of the approving authority that the transit names lets the work go on.
    """
    part = transit.frame or transit.split_seal
    field = "frame" if transit.frame else "split_seal"
    rated = [comparison for comparison in comparisons if comparison.about not in ("other", "validity")]
    certificate = held(transit, catalogue).certificate
    if rated and (certificate is None or not certificate.covers):
        words = "; ".join(str(comparison.lines[0].wall) for comparison in rated)
        lack = "no certificate" if certificate is None else f"a certificate in words only, {certificate.number}"
        return (
            Finding(
                f"{wall_id} demands {words}, and {part} has {lack}",
                "nothing can be compared, so the approving authority must say whether it covers this wall",
                "give the catalogue its certificate with covers:, or have that answer in writing before work",
                severity="look",
                field=field,
            ),
        )
    return tuple(_find(transit, wall_id, comparison, field) for comparison in comparisons if _is_open(comparison))


def _is_open(comparison: Comparison) -> bool:
    return comparison.verdict != "covered" and comparison.about != "other"


def _find(transit: Transit, wall_id: str, comparison: Comparison, field: str) -> Finding:
    part = transit.frame or transit.split_seal
    first = next(line for line in comparison.lines if line.verdict == comparison.verdict)
    rating = f" (for {comparison.lines[0].wall})" if first is not comparison.lines[0] else ""
    fails = comparison.verdict == "not covered"
    paper = transit.authority_accepts
    says = "does not cover" if fails else "can't be compared with"
    why = str(first.why).rstrip(".") if first.why else "what is not known can't be compared"
    if fails:
        rule = "a certificate covers what it says and nothing else"
        why = f"{why}: {rule}" if first.why else rule
    body = "a frame" if transit.frame else "a seal"
    if paper:
        mend = f'"{paper}" must be in hand before anything is cut'
    elif fails:
        mend = (
            f"choose {body} and a fixing whose certificate covers it, or name in authority_accepts the paper in which"
            " the approving authority accepts it"
        )
    else:
        mend = "complete the job or the catalogue, or get the approving authority's answer in writing"
    return Finding(
        f'the certificate of {part} {says} {wall_id}: the wall has "{first.wall}", the certificate'
        f' "{first.certificate}"{rating}',
        why,
        mend,
        severity="stop" if fails and not paper else "look",
        field="day" if comparison.about == "validity" and transit.day else field,
    )
