"""Names of layers as drawings of several countries have them; all common practice."""

import pytest

from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.drawings.layers import BY_THICKNESS, WORDS, guess
from resilience.drawings.words import RULES

NAMES = {
    "unknown_wall": (
        "A-WALL WL Außenwand Innenwände Trennwand MAUER-EG Murs Mur_porteur Muro-perimetral Pareti "
        "Paredes Muren Binnenmuur Sciany Ściana"
    ),
    "doors": "Türen Innentür TUEREN Haustuer DRS Porte Portes-int Puertas Porta Deuren Drzwi",
    "windows": "Fenster EG-FENSTER Dachfenster WDW Fenêtres Ventanas Finestre Ramen Okna",
    "pillars": "Stützen STUETZE Säulen Poteaux Pilares Columnas Colonne Kolommen Słupy CLM",
    "shaft": "Aufzugsschacht Schacht Gaine Ascenseur Ascensor Ascensore Szyb Winda SHFT",
    "outline": "Umriss Kontur Geschossdecke A-SLAB SLB Dalle Losa Forjado Solaio Vloer Strop Obrys",
    "glazed_partition": "Glas Glaswand Verre Vidrio Cristal Vetro Szkło GLS",
    "concrete": "Stahlbetonwand BETON Béton Hormigón Calcestruzzo",
    "stud_wall": "Trockenbau Cloisons Tabiques Tramezzi Gipskarton PTN",
    "brick": "Mauerwerk Briques Ladrillo Mattoni Baksteen Cegła",
    "ignore": (
        "Bemaßung Möblierung Treppen Cotes Mobilier Escalier Cotas Muebles Escalera Quote Arredi "
        "Scala Maatvoering Meubels Wymiary Struktur Kontingent Sektor COLOUR Porteur Trapezblech-X"
    ),
}


@pytest.mark.parametrize(
    ("name", "becomes"), [(name, kind) for kind, names in NAMES.items() for name in names.split()]
)
def test_layers_are_understood_in_seven_languages(name, becomes):
    assert guess(name).becomes == becomes


def test_the_word_that_decided_is_named():
    assert guess("EG_Innentür").note == "guessed from tür"
    assert guess("XYZZY").note == "not understood"


def test_every_rule_names_something_that_a_layer_can_become():
    for becomes, construction, _ in RULES:
        assert becomes in (*WORDS, *BY_THICKNESS, *CONSTRUCTIONS), becomes
        assert construction in ("", *CONSTRUCTIONS), construction
