"""How sure: what many worlds say of a run, in words that terminal and page share; read from doubt.json alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from explore.figures.format import label, lower, record, shown, whole
from explore.judgement.front import goal
from explore.tell.fluid_name import short_name
from explore.tell.narrator import EXPANSIONS
from explore.tell.terminal import table

if TYPE_CHECKING:
    from explore.config.schema import Case

Found = Mapping[str, Any]
BENCH = {
    "valves": "indicator cards at two speeds: the pressure lost while valves are open",
    "clearance": "the clearance volume, filled with oil at the dead centre",
    "seal": "a leak-down test of each cylinder, warm, with dry nitrogen",
    "walls": "an indicator card with the feed weighed: the vapour that the card does not account for",
    "friction": "the motoring torque of the engine, and a brake test at two pressures",
    "pump": "the feed pump alone: flow and torque at two pressures, and the head at which it loses flow",
    "water drops": "the pressure drop of each water stream at its flow",
    "water pumps": "power, flow and head of the water pumps",
    "films": "one exchanger with warm water: flows, and temperatures at both ends",
    "hold-up": "an exchanger filled with water: its weight before and after",
    "store": "the cool-down of the store over two nights",
    "collectors": "heat of the collectors on a clear day, cool and hot",
    "sun": "one collector of two washed, and both compared; a year of one's own sun",
    "warm-up": "the heat that a cold engine takes until it works",
    "room": "a thermometer where the engine is to stand",
    "cooling water": "the temperature of the cooling water in its warmest week",
    "price": "written offers",
    "weather": "nothing tells next year's; measured years of the place (doubt.weather_years), the more the better, tell "
    "how far they differ",
}
"""The measurement that pins a group of assumptions; prices are one kind."""
NAMED = 3
"""Classes told in a sentence; the page has all of them."""
SURE = 2.0
"""Standard errors above which a gain is told: below it may be chance."""
NOTHING = "nothing feasible"
"""The class of worlds in which no design keeps every limit, as doubt.json calls it."""
SELDOM = 0.05
"""Share of worlds below which the headline does not speak of it: half of one in ten."""
STEADY_SHARE = 0.9
"""Share of worlds in which a steady design lies near the front: nine of ten is what a builder may call sure."""
LITTLE = 0.01
"""Share of the variance below which a group is not worth a line."""
BRIEF = (
    "A short study after the search, of the recommended designs and some of each fluid; task=doubt asks all "
    "designs, under each ceiling, the plants as bought, and what to measure first."
)
SCOPE = "Each world has other values of all that is assumed, and every design is sized anew in it: so cost and sizes move."
BOUGHT = "What a plant once built would do in these worlds is another question; its answers stand apart, 'as bought'."
NOT_BOUGHT = "What a plant once built would do in these worlds is another question, not asked here."
ONE_YEAR = "The weather is the same year throughout."


def told(found: Found, case: Case) -> list[str]:
    """Return what the terminal says before what to measure first, paragraph by paragraph; a table has its lines."""
    said = [
        f"How sure: {whole(found['worlds'])} plausible worlds, {whole(found['designs_tried'])} designs. {scope(found)}"
    ]
    said += [bands_table(found), *(design_words(one, case) for one in found["designs"])]
    said += [
        words for one in found["ceilings"] for words in (ceiling_words(one, case), *corner_words(one, case))
    ]
    return [words for words in (*said, steady_words(found)) if words]


def scope(found: Found) -> str:
    """Say what was asked, and what not."""
    said = f"{SCOPE} {BOUGHT if found.get('as_bought') else NOT_BOUGHT} {weather_words(found)}"
    return f"{BRIEF} {said}" if found.get("brief") else said


def weather_words(found: Found) -> str:
    """Say which years of weather the worlds have."""
    weather = found.get("weather") or {}
    if not weather.get("years"):
        return ONE_YEAR
    if weather["resampled"]:
        return (
            f"Each has one of {weather['years']} years of weather, resampled from one typical year in blocks of "
            f"{weather['block_days']} days: real years vary more."
        )
    return f"Each has one of {weather['years']} years of weather, as given in files."


def in_short(found: Found, case: Case) -> list[str]:
    """Say after a search what it comes to: the likeliest fluid, and how likely each recommended design keeps its limits."""
    keeps = [
        f"{_title(one)} ({fluid(one['fluid'], case)}): {100.0 * one['keeps']['probability']:.0f}%"
        for one in found["designs"]
    ]
    told = f"How sure, asked of {whole(found['worlds'])} plausible worlds: {headline(found, case)}."
    return [
        told,
        *([f"Recommended designs keep every limit in: {'; '.join(keeps)} of worlds."] if keeps else []),
    ]


def bands_table(found: Found) -> str:
    """Set low, likely and high of each recommended design's figures in a table, beside what the run says."""
    rows = [["", "low", "likely", "high", "run"]]
    for one in found["designs"]:
        rows.append([f"{_title(one)}: {one['fluid']}", "", "", "", ""])
        for name, band in one["bands"].items():
            unit = f" [{record(name).unit}]" if record(name).unit else ""
            cells = [_number(band[key], name) for key in ("low", "likely", "high", "nominal")]
            rows.append([f"  {label(name)}{unit}", *cells])
    return "Low and high: a tenth of the worlds lies beyond each\n" + table(rows, whole=True)


def design_words(one: Found, case: Case) -> str:
    """Say how likely a recommended design keeps every limit, which it breaks, and what it gives away elsewhere."""
    said = f"{_title(one)} ({one['fluid']}, design {one['row']}) keeps every limit in {chance(one['keeps'])} of worlds"
    if one["broken"]:
        reasons = [f"{lower(label(each['limit']))} ({_percent(each['share'])})" for each in one["broken"]]
        said += f"; it breaks most by: {', '.join(reasons)}"
    said += f". It stays within 2 % of the front in {chance(one['near_front'])}"
    for objective in case.scenario.objectives:
        band = one["regret"].get(objective.figure, {})
        if goal(objective) in str(one["role"]) and band.get("likely") is not None:
            likely, high = (_number(band[key], objective.figure) for key in ("likely", "high"))
            what, unit = lower(record(objective.figure).title), record(objective.figure).unit
            if band["high"] is not None and band["high"] <= 0.0:
                said += (
                    f". Where it keeps its limits, no design tried betters its {what} in nine of ten worlds"
                )
                continue
            said += (
                f". Where it keeps its limits, the best of the world betters its {what} by {likely} {unit} (likely; in a "
                f"tenth of worlds by more than {high})"
            )
    return f"{said}."


def ceiling_words(one: Found, case: Case) -> str:
    """Say how likely each fluid, store and number of expansions is best under a ceiling."""
    what = lower(record(one["figure"]).title)
    said = f"Under {one['ceiling_bar_g']:g} bar gauge, most often best in {what}: {_best(one['fluid'], case)}"
    likely = one["fluid"]["nominal"]
    if one["fluid"]["best"][0]["best"] != likely:
        share = next((each for each in one["fluid"]["best"] if each["best"] == likely), None)
        often = f"in {chance(share)} of worlds only" if share else "in none of these worlds"
        said += f"; the run's own {fluid(likely, case)} is best {often}"
    return f"{said}. Store: {_best(one['store_mode'], case)}. Expansions: {_best(one['stages'], case)}."


def headline(found: Found, case: Case) -> str:
    """Say in one sentence which fluid is best most often under the run's own ceiling, and how often nothing will do."""
    one = found["ceilings"][-1]
    fluids = {card.name for card in case.fluids.values()}
    under = f"under {one['ceiling_bar_g']:g} bar gauge"
    best = next((each for each in one["fluid"]["best"] if each["best"] in fluids), None)
    none = next((each for each in one["fluid"]["best"] if each["best"] == NOTHING), None)
    if best is None:
        return f"No fluid is best {under} in any of these plausible worlds"
    said = f"{fluid(best['best'], case)} is best in {_tenths(best['probability'])} of 10 plausible worlds {under}"
    if none and none["probability"] > SELDOM:
        said += f"; in {_tenths(none['probability'])} of 10 none of the designs tried keeps every limit"
    return said


def corner_words(one: Found, case: Case) -> list[str]:
    """Say of each fluid that wins in an optimistic corner only, what must be good for it."""
    said = []
    for each in one["corners"]:
        needs = " and ".join(
            f"{group} ({spreads:.1f} spreads better than likely)" for group, spreads in each["groups"].items()
        )
        said.append(
            f"{fluid(each['fluid'], case)} wins under {one['ceiling_bar_g']:g} bar gauge in an optimistic corner only: in "
            f"{chance(each)} of worlds, those with good {needs}."
        )
    return said


def steady_words(found: Found) -> str:
    """Say which designs stay near the front in nine of ten worlds, or how often the steadiest does; unasked, nothing."""
    steady = [one for one in found["steady"] if one["near_front"]["probability"] >= STEADY_SHARE]
    if not found["steady"]:
        return ""
    if not steady:
        best = found["steady"][0]
        return (
            f"No design stays within 2 % of the front in 90 % of worlds; the steadiest, {_named(best)}, does in "
            f"{chance(best['near_front'])}."
        )
    return f"Within 2 % of the front in 90 % of worlds: {', '.join(map(_named, steady))}."


def measure_words(found: Found) -> list[str]:
    """Rank what to measure first: share of the spread it brings, the bench measurement, and what knowing it is worth."""
    said = []
    for place, one in enumerate(
        (one for one in found.get("measure_first", ()) if one["total"] >= LITTLE), start=1
    ):
        worth = worth_words(one)
        share = (
            f"brings {_percent(one['total'])} (± {100.0 * one['total_confidence']:.0f}"
            f"{_untold(one)}) of the spread, "
            f"{_percent(max(one['first'], 0.0))} by itself"
        )
        words = f"{place}. {one['topic']} ({share}): {bench(one['topic'])}"
        said.append(words + (f"; known before choosing, worth {', '.join(worth)}" if worth else ""))
    return said


def _untold(one: Found) -> str:
    """Say of a share that is within its own error of nothing that so few worlds do not tell it; empty of others."""
    return ", too few worlds to tell" if one["total_confidence"] >= one["total"] else ""


def worth_words(one: Found) -> list[str]:
    """Say what knowing a topic before choosing adds to each objective, where that is no chance."""
    return [
        f"{_number(each['gain'], name)} {record(name).unit} (± {_number(each['standard_error'], name)})"
        for name, each in one["worth"].items()
        if each["gain"] > SURE * each["standard_error"] > 0.0
    ]


def bench(topic: str) -> str:
    """Return the measurements that pin a topic's groups."""
    groups = ["price" if one.startswith("price of") else one for one in topic.split(" and ")]
    return "; ".join(BENCH.get(one, "no measurement is known") for one in dict.fromkeys(groups))


def chance(one: Found) -> str:
    """Write a probability with its standard error."""
    return f"{_percent(one['probability'])} (± {100.0 * one['standard_error']:.1f})"


def fluid(name: str, case: Case) -> str:
    """Return a fluid's trade name; numbers of expansions in words, other classes as called."""
    if name.isdecimal():
        return EXPANSIONS.get(int(name), name)
    return short_name(name, case)


def _best(kinds: Found, case: Case) -> str:
    listed: Sequence[Found] = kinds["best"]
    said = [f"{fluid(one['best'], case)} {chance(one)}" for one in listed[:NAMED]]
    rest = sum(one["probability"] for one in listed[NAMED:])
    return ", ".join([*said, *([f"others {_percent(rest)}"] if rest > 0.0 else [])])


def _title(one: Found) -> str:
    role = str(one["role"])
    return role[:1].upper() + role[1:]


def _named(one: Found) -> str:
    place = f"design {one['row']}" if one["row"] else "a design behind the front"
    return f"{place} ({one['fluid']})"


def _tenths(share: float) -> str:
    tenths = round(10.0 * share)
    return str(tenths) if 0 < tenths < 10 else "less than 1" if tenths == 0 else "nearly 10"


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _number(value: float | None, name: str) -> str:
    return "–" if value is None else shown(repr(float(value)), name, with_unit=False)
