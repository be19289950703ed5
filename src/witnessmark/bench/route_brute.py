"""An independent checker of hard order rules, by brute force over bare tokens. It shares no code with the product.

A route is a list of (token, starts_h, ends_h). Each rule is spelt out over all pairs of positions, slowly.
"""

from typing import Any

Token = tuple[str, float, float]
SHAPES = {"machine", "grind", "form", "weld", "peen", "straighten", "drill"}


def broken(route: list[Token], part: dict[str, Any]) -> set[str]:
    """Return the hard rules that the route breaks."""
    name = [token for token, _, _ in route]
    span = range(len(name))
    metal, strength = part["metal"], part["strength"]
    steel, aluminium, magnesium = metal == "steel", metal == "aluminium", metal == "magnesium"
    hard = steel and strength is not None and strength >= 1241
    plates = {"cadmium plate", "hard chrome"}
    coats = plates | {"conversion coat", "anodise", "prime", "paint"}
    tests = {"penetrant", "magnetic particle", "hardness check"}
    strips = {"strip paint", "strip plate"}
    out: set[str] = set()

    def some(words: set[str], low: int, high: int) -> bool:
        return any(name[k] in words for k in span if low <= k < high)

    def nearest(words: set[str], i: int) -> int | None:
        found = [k for k in range(i) if name[k] in words]
        return found[-1] if found else None

    def following(words: set[str], i: int) -> int | None:
        return next((k for k in range(i + 1, len(name)) if name[k] in words), None)

    end = len(name)
    rework = strips | {"blend", "blast", "etch"}
    if any(name[i] in rework for i in span):
        first = min(i for i in span if name[i] in rework)
        if not some({"document"}, 0, first) and (part["undocumented"] or some({"document"}, first, end)):
            out.add("R01")
    for i in span:
        for j in range(i + 1, end):
            if name[i] in plates and name[j] in SHAPES and not (name[j] == "grind" and "hard chrome" in name and steel):
                out.add("R02" if steel else "R04")
            if name[i] in plates and name[j] == "heat treat":
                out.add("R04")
    coat_first = [i for i in span if name[i] in {"conversion coat", "anodise", "prime", "paint"}]
    if coat_first and some({"machine", "form", "straighten", "weld"}, coat_first[0] + 1, end):
        out.add("R03")
    for i in span:
        if name[i] in plates:
            if part["rejected"]:
                strip = nearest({"strip plate"}, i)
                if strip is None or not some({"clean"}, strip + 1, i):
                    out.add("R09")
            conv, heat = following({"conversion coat"}, i), following({"bake"}, i)
            if conv is not None and heat is not None and conv < heat and "cadmium plate" in name:
                out.add("R08")
            if hard:
                oven = following({"bake"}, i)
                if oven is None or route[oven][1] - route[i][2] > 4:
                    out.add("R07")
                shaped = [k for k in range(i) if name[k] in SHAPES - {"weld", "peen"}]
                if shaped and part["worked"] and not some({"stress relief"}, shaped[0] + 1, i):
                    out.add("R05")
        if name[i] == "temper etch" and steel:
            oven, bath = following({"bake"}, i), following(plates, i)
            if oven is None or (bath is not None and bath < oven) or route[oven][1] - route[i][1] > 8:
                out.add("R06")
        acid = name[i] == "etch" or (name[i] == "conversion coat" and not some(plates, 0, i))
        if hard and acid and not part["authorised"]:
            out.add("R27")
        if name[i] == "power tool" and hard:
            out.add("R28")
        if name[i] == "penetrant":
            rough = [k for k in range(i) if name[k] in {"machine", "drill", "grind", "peen", "blast"}]
            if rough and not some({"penetrant"}, 0, rough[0]) and not some({"etch"}, rough[0] + 1, i):
                out.add("R10")
            bath = nearest(plates, i)
            if bath is not None and name[bath] == "hard chrome" and route[i][2] - route[i][1] < 20 / 60 - 1e-9:
                out.add("R31")
        if name[i] == "magnetic particle":
            stripped = some(strips, 0, i)
            if not stripped and (some(strips, i + 1, end) or part["thick_paint"]):
                out.add("R12")
            dye = following({"penetrant"}, i)
            if dye is not None and not some({"clean"}, i + 1, dye):
                out.add("R13")
            back, free = following({"put back"}, i), following({"demagnetise"}, i)
            if back is not None and free is not None and back < free:
                out.add("R14")
            if back is not None and stripped and not some(coats, i + 1, back):
                out.add("R15")
        if name[i] == "blast":
            if part["threads"] and not some({"mask"}, 0, i):
                out.add("R17")
            if magnesium and not some(tests, i + 1, end):
                out.add("R32")
        if name[i] == "prime":
            sanded, pot = nearest({"blend"}, i), nearest({"mix primer"}, i)
            if steel and sanded is not None and route[i][1] - route[sanded][2] > 1:
                out.add("R19")
            if pot is not None and not 0.5 - 1e-9 <= route[i][1] - route[pot][2] <= 4:
                out.add("R22")
        if name[i] in {"conversion coat", "scuff"}:
            over = following({"prime", "paint"}, i)
            if over is not None and route[over][1] - route[i][2] > 48:
                out.add("R20")
        if name[i] == "paint":
            base = nearest({"prime"}, i)
            if base is not None and not some({"paint"}, base + 1, i):
                gap = route[i][1] - route[base][2]
                scuffed, wiped = some({"scuff"}, base + 1, i), some({"wipe"}, base + 1, i)
                if gap < 5 or (gap > 24 and not scuffed) or (8 < gap <= 24 and not scuffed and not wiped):
                    out.add("R21")
        if aluminium and name[i] == "conversion coat":
            hot = following({"bake", "stress relief"}, i)
            if hot is not None and not some({"prime", "paint"}, i + 1, hot):
                out.add("R23")
        if aluminium and name[i] == "anodise" and some({"press fit"}, i + 1, end):
            out.add("R24")
        if name[i] == "blend":
            coat = following(coats, i)
            if coat is not None and not some({"measure"}, i + 1, coat):
                out.add("R34")
    blends = [i for i in span if name[i] == "blend"]
    if blends:
        first = blends[0]
        unknown = part["unidentified"] or some({"identify"}, first + 1, end)
        if steel and unknown and not some({"identify", "hardness check"}, 0, first):
            out.add("R25")
        still_in = part["nutplates"] or some({"remove fasteners"}, 0, end)
        if aluminium and still_in and not some({"remove fasteners"}, 0, first):
            out.add("R26")
    primes = [i for i in span if name[i] == "prime"]
    if part["unlike"] and not magnesium and primes:
        gaps = [
            route[b][1] - route[a][2]
            for a in primes
            for b in primes
            if b == min((k for k in primes if k > a), default=-1)
        ]
        if len(primes) < 3 or any(gap < 6 for gap in gaps):
            out.add("R33")
    return out
