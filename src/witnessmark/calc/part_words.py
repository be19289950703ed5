"""What a part is, said in the trade's own words alone: nothing else of its name goes along."""

import re

# The words that say what a thing is. From memory, common words of the bench.
_THINGS = """
    aerial aileron airscrew airspeed altimeter angle arm axle balance ballast bar barrel base battery beam bearing bellcrank
    bellows belt blade block bollard bolt boom boot box brace bracket brake bulkhead bush bushing cabin cable cam canopy cap carburettor
    casing casting chain channel clamp cleat clevis clip clock clutch cock cockpit collar collector column compass cone
    conduit connector control cooler counter coupling cover cowl cowling crankcase crankshaft cushion cylinder damper deck
    dial diagonal door doubler drum duct edge elevator engine fabric face fairing fastener filler filter fin finger firewall fitting
    flange flap float floor foot fork former frame fuselage gasket gauge gear generator gill glass grille grip gudgeon guide gusset
    hatch heater hinge hook horn hose hub hull indicator inspection instrument intake intercostal jack joint keel knob
    lamp landing latch leg lens level lever light liner link lock longeron louvre lug magneto manifold mast member moulding mount
    mounting mudguard needle nipple nose nut oleo packing pad pan panel pedal pin pinion pipe piston plate plug plunger post propeller
    pulley pump pushrod pylon quadrant rack radiator radio rail receptacle regulator reservoir retainer rib ring rivet rod roller
    roof rudder runner saddle screen screw seal seat shackle shaft shaving sheave shell shield shim shoe shroud skid skin slat sleeve
    slipper socket spacer spar spat spindle spinner splice spool spring sprocket stanchion starter stay step stiffener stop
    strainer stringer strap strip strut stub stud switch tab tail tailplane tailskid tailwheel tank tee terminal throttle tie tip torque
    track tray trestle trim trunnion trunk tube turnbuckle tyre union upholstery valve vane vent visor wall washer web wedge
    weight wheel winch windscreen window wing wire wiring wrapper yoke
"""
# The words that say which of them, or of what it is made; they never stand alone.
_WHICH = """
    aft alloy aluminium auxiliary bakelite bilge bottom bow brass bronze cast centre chine clear closing cold cross curved down drain dural
    duralumin emergency exhaust fabric false fire first fixed flat fore forged forward front fuel glazed hand header hollow hot
    hydraulic inboard inner instrument intermediate internal lap leading leather lift limber lower luminous magnesium magnetic main mooring
    oil outboard outer pitot ply plywood port pressure push radial rear retractable retraction revolution rigid root rubber
    second secondary side sliding small solid spruce spun stabilising stainless starboard steel stern sub tapered temperature
    top trailing trimming upper watertight welded wooden
"""
THINGS, WHICH = frozenset(_THINGS.split()), frozenset(_WHICH.split())
JOINING = frozenset({"and", "for", "of", "to", "with"})  # between two of those


def part_words(name: str) -> str:
    """Say what a part is by those words of its name that are the trade's own.

    Parameters
    ----------
    name : str
        The part's name as somebody typed it. [-]

    Returns
    -------
    str
        The first words in a row that all are known here and name a thing, up to the thing; empty where none do.

    Raises
    ------
    none

    Notes
    -----
    What is not in the lists is never said: a person's name, a mark, a number, a shelf. Words are in a row while
    blanks or hyphens alone part them.

    Examples
    --------
    >>> part_words("Wing rib 6 L, spruce/ply")
    'wing rib'
    >>> part_words("pylon and mount bolts, mixed M8x1")
    'pylon and mount bolts'
    >>> part_words("Quillbrae's bracket, main spar (TAG-7)")
    'bracket'
    >>> part_words("SE-QXZ")
    ''

    References
    ----------
    none: words of the bench, from memory.
    """
    for run in re.findall(r"[^\W\d_]+(?:[ \-‐]+[^\W\d_]+)*(?![\w'’])", name.casefold()):
        row: list[str] = []
        for word in [*re.split(r"[ \-‐]+", run), ""]:
            if _is_of(word, THINGS) or word in WHICH or (row and word in JOINING):
                row.append(word)
                continue
            while row and not _is_of(row[-1], THINGS):
                row.pop()
            if row:
                return " ".join(row)
    return ""


def _is_of(word: str, words: frozenset[str]) -> bool:
    return word in words or (word.endswith("s") and (word[:-1] in words or word.removesuffix("es") in words))
