"""``calc cure``: ingoing nitrite and nitrate against a limit."""

from __future__ import annotations

import math

import click

from dryward.doors.calc.answer import NUMBER, Finite, answer, json_option, used_rightly
from dryward.doors.calc.grams import Grams
from dryward.science import cure as science

BLENDS = {"type-1": science.TYPE_1, "type-2": science.TYPE_2}


@click.command()
@click.option(
    "--method",
    type=click.Choice(["dry", "pumped", "immersion"]),
    required=True,
    help="dry: rubbed on or mixed in; pumped: injected; immersion: left in pickle.",
)
@click.option("--cure-g", type=Grams(), required=True, help="Curing salt, g.")
@click.option("--green-g", type=Grams(), help="Green weight of the meat, g (dry, immersion).")
@click.option("--pickle-g", type=Grams(), help="All of the pickle with the curing salt in it, g (pumped, immersion).")
@click.option("--pump-pct", type=NUMBER, help="Pickle pumped in, per cent of the green weight (pumped).")
@click.option(
    "--blend",
    type=click.Choice(list(BLENDS)),
    help="type-1: 6.25 % nitrite; type-2: 6.25 % nitrite and 4 % nitrate. Others: the two options below.",
)
@click.option("--nitrite-pct", type=NUMBER, help="Sodium nitrite in the curing salt, per cent, from its packet.")
@click.option("--nitrate-pct", type=NUMBER, default=0.0, show_default=True, help="Sodium nitrate in it, per cent.")
@click.option(
    "--limit",
    "limit_key",
    type=click.Choice([limit.key for limit in science.LIMITS]),
    help="Which limit to hold it against. Left out: the strictest one listed for the method.",
)
@click.option(
    "--limit-ppm",
    type=Finite(0.0, 1000.0, min_open=True),
    help="Your own nitrite limit, ppm; needs --limit-source.",
)
@click.option("--nitrate-limit-ppm", type=Finite(0.0, 5000.0), help="Your own nitrate limit, ppm.")
@click.option("--limit-source", help="Where your own limit stands, with its country.")
@json_option
def cure(
    method: science.Method, cure_g: float, green_g: float | None, pickle_g: float | None, pump_pct: float | None, blend: str | None, nitrite_pct: float | None,
    nitrate_pct: float, limit_key: str | None, limit_ppm: float | None, nitrate_limit_ppm: float | None, limit_source: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Nitrite and nitrate that go into the meat, in ppm of its green weight.

    \b
    dryward calc cure --method dry --blend type-1 --cure-g 2.5 --green-g 1000
    dryward calc cure --method pumped --nitrite-pct 6.25 --cure-g 120 --pickle-g 5000 --pump-pct 10
    """
    if (blend is None) == (nitrite_pct is None):
        raise click.UsageError("Say what the curing salt is: either --blend or --nitrite-pct, from its packet.")
    if blend and nitrate_pct:
        raise click.UsageError(
            "--nitrate-pct goes with --nitrite-pct, both from the packet: the strength of a --blend is fixed."
        )
    salt = (
        BLENDS[blend]
        if blend
        else science.CuringSalt(name="as given", nitrite_pct=nitrite_pct or 0.0, nitrate_pct=nitrate_pct)
    )
    limit = _limit(method, limit_key, limit_ppm, nitrate_limit_ppm, limit_source)
    with used_rightly():
        if method == "dry":
            ingoing = science.dry(cure_g=cure_g, green_g=_given(green_g, "--green-g", method), salt=salt)
        elif method == "pumped":
            ingoing = science.pumped(
                cure_g=cure_g,
                pickle_g=_given(pickle_g, "--pickle-g", method),
                pump_pct=_given(pump_pct, "--pump-pct", method),
                salt=salt,
            )
        else:
            ingoing = science.immersion(
                cure_g=cure_g,
                pickle_g=_given(pickle_g, "--pickle-g", method),
                green_g=_given(green_g, "--green-g", method),
                salt=salt,
            )
    within = science.within(ingoing, limit)
    nitrate_limit = science.nitrate_limit_ppm(limit)
    source = f"{limit.source}, {limit.product}, {limit.country}" if limit.country else limit.source
    values = {
        "nitrite_ppm": ingoing.nitrite_ppm, "nitrate_ppm": ingoing.nitrate_ppm, "limit_ppm": limit.nitrite_ppm,
        "nitrate_limit_ppm": nitrate_limit, "within_limit": within, "source": source, "country": limit.country,
    }  # fmt: skip
    lines = [
        f"nitrite {ingoing.nitrite_ppm:.1f} ppm going in, limit {limit.nitrite_ppm:g} ppm",
        *(
            [f"nitrate {ingoing.nitrate_ppm:.1f} ppm going in, limit {nitrate_limit:g} ppm"]
            if ingoing.nitrate_ppm
            else []
        ),
        f"limit: {source}",
        "Within the limit."
        if within
        else f"ABOVE THE LIMIT. Do not use it: at most {math.floor(100.0 * science.most_cure_g(cure_g, ingoing, limit) + 1e-6) / 100.0:g} g of this curing salt keeps to it.",
        "Other countries and products have other limits: your local food code decides. Never guess the strength of a blend.",
    ]
    answer(values, lines, as_json=as_json)


def _given(value: float | None, option: str, method: str) -> float:
    if value is None:
        raise click.UsageError(f"The {method} method needs {option}.")
    return value


def _limit(
    method: science.Method, key: str | None, ppm: float | None, nitrate_ppm: float | None, source: str | None
) -> science.Limit:
    if ppm is None:
        if source or nitrate_ppm is not None:
            raise click.UsageError("--limit-source and --nitrate-limit-ppm belong to --limit-ppm; give it too.")
        limit = science.limit_for(method, key=key or "")
        if method not in limit.methods:
            fitting = ", ".join(one.key for one in science.LIMITS if method in one.methods)
            raise click.UsageError(
                f"--limit {limit.key} is for {limit.product}, not for the {method} method. Listed for it: {fitting}."
            )
        return limit
    if key or not source:
        raise click.UsageError(
            "--limit-ppm stands alone (without --limit) and needs --limit-source: where that figure stands, with its country."
        )
    return science.Limit(
        key="own", nitrite_ppm=ppm, nitrate_ppm=nitrate_ppm, methods=(method,), product="", country="", source=source
    )
