"""What a name says about an ingredient: a table of names that makers and labels use."""

import unicodedata

import pytest

from labkit.materials.name_words import guess_part, hardens

SAYS = {
    "wax": """
        wax | Beeswax | beeswax, white | BEES WAX | Cera Alba | cera flava | Cera d'api | Cire d'abeille |
        Bienenwachs | Carnaubawachs | candelilla | Candelilla Wax | Euphorbia Cerifera Cera |
        Euphorbia Cerifera (Candelilla) Wax | Copernicia Cerifera Cera | carnauba | ozokerite | Ozokerit |
        ceresin | Rice Bran Wax | rice_bran_wax | Oryza Sativa Cera | Rhus Succedanea Fruit Cera |
        microcrystalline wax | Cera Microcristallina | castor wax | hydrogenated castor oil |
        Hydriertes Rizinusöl | Hydrogenated Jojoba Oil | paraffin | paraffin wax | orange wax | wax 2 |
        Polyglyceryl-3 Beeswax
    """,
    "butter": """
        butter | shea butter | Sheabutter | Butyrospermum Parkii Butter | Theobroma Cacao Seed Butter |
        Kakaobutter | beurre de cacao | mango butter | shea | Shea (refined) | karité | burro di karité |
        Kokum | illipe
    """,
    "oil": """
        oil | castor oil | Castor | Ricinus Communis Seed Oil | Rizinusöl | Huile de ricin | olio di oliva |
        óleo de rícino | Simmondsia Chinensis Seed Oil | jojoba | Jojoba oil, cold-pressed |
        Caprylic/Capric Triglyceride | MCT oil | squalane | macerated oil | Paraffinum Liquidum |
        paraffin oil | Butyrospermum Parkii (Shea) Oil | octyldodecanol
    """,
    None: """
        cholesterol | behenyl alcohol | cetyl alcohol | stearic acid | magnesium stearate | lanolin |
        petrolatum | jojoba esters | wax esters | wax ester | red iron oxide | CI 77491 in castor oil |
        red pigment paste (castor oil) | mica | vitamin E in sunflower oil | peppermint oil |
        orange essential oil | butter flavour | butterfly pea | buttermilk | waxy maize | ceramide |
        hydrogenated vegetable oil | Hydrogenated Soybean Oil | emulsifying wax | PEG-8 Beeswax |
        cocoa powder | rose petals | liquid paraffin | menthol | Panthenol | trefoil | something else |
        C18-36 triglycerides | trihydroxystearin | calcium distearate |
    """,
}
NAMES = [(name.strip(), part) for part, names in SAYS.items() for name in names.split("|")]


@pytest.mark.parametrize(("name", "part"), NAMES)
def test_a_part_is_guessed_from_its_name(name, part):
    """However it is typed: in capitals, small, with composed or combining accents."""
    for typed in (name, name.upper(), name.casefold(), unicodedata.normalize("NFD", name), f"  {name} "):
        assert guess_part(typed) == part
    assert hardens(name) == (part == "wax")
