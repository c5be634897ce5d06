"""What materials and fixings are called, for whoever shows them: pages, and comparisons with a certificate."""

from generator.model.facts import _

MATERIALS: dict[str, str] = {
    "steel": _("steel"),
    "stainless": _("stainless steel"),
    "aluminium": _("aluminium"),
    "concrete": _("concrete"),
    "masonry": _("masonry"),
    "board": _("board"),
}
FIXINGS: dict[str, str] = {
    "welded": _("welded in"),
    "sleeve": _("held by a gripping sleeve"),
    "plain-hole": _("set in a plain hole"),
    "bolted": _("bolted on"),
    "grouted": _("set in mortar"),
    "cast": _("cast in"),
}
FIXINGS_IN_TABLES: dict[str, str] = {
    **FIXINGS,
    "sleeve": _("gripping sleeve"),
    "plain-hole": _("plain hole"),
    "grouted": _("grouted in"),
}
"""The same behind the kind of a transit, in a narrow column."""
