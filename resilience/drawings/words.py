"""Words in the names of layers and materials, in several languages, and what they mean.

English with the codes and abbreviations of layer standards, German, French, Spanish, Italian,
Dutch and Polish; all of it common practice. Words are lower case; those of the other languages
than German are written without accents, and are found with them or without.
"""

import unicodedata
from collections.abc import Iterator

IGNORE = "ignore"
OUTLINE = "outline"
UNKNOWN_WALL = "unknown_wall"

# The first rule with a word that begins a part of the name decides. Left to right: what the name
# becomes, what that is made of, the words. A word that ends in a point, or is shorter than
# ``WHOLE``, has to be the whole part; one that begins with a hyphen is the end of a compound too.
RULES: tuple[tuple[str, str, str], ...] = (
    (
        IGNORE,
        "",
        "dim dims dimension text txt anno iden symb note hatch patt fill furn equip grid "
        "axis axes defp title legend viewport vport elec light power plumb sanit hvac duct "
        "pipe stair landscape tree site road park dash hidden ceiling clng section bemass "
        "beschrift schraff möbel moebel möbl moebl achse achsen raster treppe ventil abhang "
        "abgehang unterdecke einricht lüft lueft heizung schnitt vermass legende plankopf cote. "
        "cotes. cotation hachure mobilier meuble axe escalier plomberie plafond cota. "
        "cotas. acotac mueble mobiliario eje. ejes. escalera sombread techo quota quote. "
        "testo testi retino arred assi. scala. scale. impiant soffitt maat maatvoering "
        "tekst arcering meubel meubilair stramien trap. trappen wymiar opis. opisy kreskow "
        "mebl osie schody sufit instal",
    ),
    (
        "doors",
        "shutter",
        "gate shutter rolltor tor tore. portail porton. poort brama bramy",
    ),
    (
        "doors",
        "wooden_door",
        "door dr drs tür -tür türen -türen tuer -tuer tueren -tueren porte. portes. puerta "
        "porta. deur deuren -deur drzwi",
    ),
    (
        "shaft",
        "unknown_wall",
        "winda. windy. windowy szyb. szyby. szacht",
    ),
    (
        "windows",
        "unknown_glass",
        "window wind glaz wdw wndw wdo win. wins. fenster -fenster verglas fenetre vitrage "
        "baie. baies. ventana ventanal finestr infiss serrament raam ramen venster -raam "
        "kozijn okno. okna. okien",
    ),
    (
        "shaft",
        "unknown_wall",
        "shaft shft lift elevator riser schacht -schacht aufzug -aufzug fahrstuhl gaine. "
        "gaines. ascens patinillo cavedi vano. vani.",
    ),
    (
        "pillars",
        "concrete_300",
        "column col cols colu pillar pier. piers. clm stütze -stütze stuetze -stuetze "
        "stützen -stützen säule saeule -säule -säulen pfeiler poteau poteaux colonn pilier "
        "pilar pilastr columna kolom kolommen zuil zuilen slup kolumn",
    ),
    (
        OUTLINE,
        "",
        "outline outl footprint perimeter boundary umriss kontur contorno emprise perimetro. "
        "sagoma omtrek obrys slab slb geschossdecke decke bodenplatte dalle losa. losas. "
        "forjado solaio solai. soletta vloer strop plyta",
    ),
    (
        "concrete",
        "",
        "concrete conc reinforced rc precast stahlbeton beton -beton hormigon calcestruzzo "
        "cls voile. voiles. zelbet",
    ),
    (
        "glazed_partition",
        "",
        "glass gls glas -glas verre vitre vidrio cristal vetro vetri vetrat szklo szklan",
    ),
    (
        "stud_wall",
        "",
        "stud gypsum gyps plasterboard drywall partition part prtn ptn trockenbau leichtbau "
        "-leichtbauwand gips cloison tabique tramezz cartongesso systeemwand scianka",
    ),
    (
        "hollow_block_200",
        "",
        "block parpaing bloque. bloques. pustak",
    ),
    (
        "brick",
        "",
        "brick masonry mas mauerwerk ziegel brique maconnerie ladrillo mattone mattoni "
        "laterizi baksteen metselwerk cegla ceglan",
    ),
    (
        "metal_sheet",
        "",
        "metal steel aluminium aluminum sheet stahl blech acier acero acciaio staal",
    ),
    (
        UNKNOWN_WALL,
        "",
        "wall wl wls wand -wand wände -wände waende -waende mauer mauern -mauer mur. murs. "
        "muro. muros. muri. muur muren -muur pared paredes parete pareti sciana sciany "
        "mury.",
    ),
)
WHOLE = 4  # a shorter beginning has to be the whole word: `col` is not `colour`


def meaning_of(parts: list[str]) -> tuple[str, str, str] | None:
    """Return what a name becomes, what of, and the word that says so; None if no word does.

    Parameters
    ----------
    parts : list of str
        The words of the name, lower case. [-]
    """
    spelt = [way for part in parts for way in (part, _without_accents(part))]
    for becomes, construction, words in RULES:
        for word in words.split():
            if any(_says(part, word) for part in spelt):
                return becomes, construction, word.strip("-.")
    return None


def words() -> Iterator[str]:
    """Yield every word that is known."""
    for _, _, listed in RULES:
        yield from (word.strip("-.") for word in listed.split())


def _says(part: str, word: str) -> bool:
    stem = word.strip("-.")
    if part == stem:
        return True
    if word.startswith("-"):
        return part.endswith(stem)
    return not word.endswith(".") and len(stem) >= WHOLE and part.startswith(stem)


def _without_accents(part: str) -> str:
    plain = unicodedata.normalize("NFKD", part.replace("ł", "l"))
    return "".join(one for one in plain if not unicodedata.combining(one))
