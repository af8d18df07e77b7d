"""Which colourants may be used where: line by line against the text of the rule."""

from dataclasses import FrozenInstanceError

import pytest

from labkit.errors import LabError
from labkit.materials import colourants, find
from labkit.rules import permitted
from labkit.rules.asked import MARKETS, USES

NAMES = [each.name for each in colourants()]
YES, NO, CERTIFIED, LIMITED, UNKNOWN = "allowed", "not allowed", "certified only", "limited", "unknown"

US = [
    # colourant, lips, eye area, face, most on lips [%], citation, what the text requires
    # "Iron oxides are safe for use in coloring cosmetics generally, including … the area of the eye"
    ("red iron oxide", YES, YES, YES, None, "73.2250"),
    ("yellow iron oxide", YES, YES, YES, None, "73.2250"),
    ("black iron oxide", YES, YES, YES, None, "73.2250"),
    # "may be safely used in cosmetics, including … the area of the eye"
    ("titanium dioxide", YES, YES, YES, None, "73.2575"),
    ("titanium dioxide (anatase)", YES, YES, YES, None, "73.2575"),
    ("zinc oxide", YES, YES, YES, None, "73.2991"),
    # "Mica is safe for use in coloring cosmetics generally, including … the area of the eye"
    ("mica", YES, YES, YES, None, "73.2496"),
    ("manganese violet", YES, YES, YES, None, "73.2775"),
    # FDA's table: eye area yes, generally (includes lipsticks) yes, external use yes
    ("carmine", YES, YES, YES, None, "73.2087"),
    ("annatto", YES, YES, YES, None, "73.2030"),
    ("bismuth oxychloride", YES, YES, YES, None, "73.2162"),
    ("bronze powder", YES, YES, YES, None, "73.2646"),
    ("copper powder", YES, YES, YES, None, "73.2647"),
    # "safely used for coloring externally applied cosmetics, including … the area of the eye";
    # 82.3(n): externally applied means "not to the lips or any body surface covered by mucous membrane"
    ("ultramarine", NO, YES, YES, None, "73.2725"),
    # FDA's table: eye area yes, generally (includes lipsticks) no, external use yes
    ("ferric ferrocyanide", NO, YES, YES, None, "73.2299"),
    ("hydrated chromium oxide green", NO, YES, YES, None, "73.2326"),
    ("chromium oxide green", NO, YES, YES, None, "73.2327"),
    ("aluminium powder", NO, YES, YES, None, "73.2645"),
    # "may be safely used for coloring fingernail polish at a level not to exceed 1 percent"
    ("silver", NO, NO, NO, None, "73.2500"),
    # "safely used for coloring cosmetics generally"; "All batches … shall be certified"; no eye area
    ("D&C Red No. 6", CERTIFIED, NO, CERTIFIED, None, "74.2306"),
    ("D&C Red No. 7", CERTIFIED, NO, CERTIFIED, None, "74.2307"),
    ("D&C Red No. 21", CERTIFIED, NO, CERTIFIED, None, "74.2321"),
    ("D&C Red No. 22", CERTIFIED, NO, CERTIFIED, None, "74.2322"),
    ("D&C Red No. 27", CERTIFIED, NO, CERTIFIED, None, "74.2327"),
    ("D&C Red No. 28", CERTIFIED, NO, CERTIFIED, None, "74.2328"),
    # "cosmetic lip products in amounts not to exceed 3 percent total color by weight of the finished …"
    ("D&C Red No. 33", CERTIFIED, NO, CERTIFIED, 3.0, "74.2333"),
    # FDA's status list: "cosmetic lip products (NTE 3% (by wt) of finished cosmetic product)"
    ("D&C Red No. 36", CERTIFIED, NO, CERTIFIED, 3.0, "74.2336"),
    # "applied to the lips in amounts not exceeding 5.0 percent by weight of the finished cosmetic products"
    ("D&C Orange No. 5", CERTIFIED, NO, CERTIFIED, 5.0, "74.2255"),
    # 59 FR 7636: FD&C Blue No. 1 and its aluminium lake "intended for use in the area of the eye"
    ("FD&C Blue No. 1", CERTIFIED, CERTIFIED, CERTIFIED, None, "74.2101"),
    ("FD&C Yellow No. 5", CERTIFIED, CERTIFIED, CERTIFIED, None, "74.2705"),
    ("FD&C Red No. 40", CERTIFIED, CERTIFIED, CERTIFIED, None, "74.2340"),
    # 81.1: lakes are provisionally listed and "may not be used in … the area of the eye"
    ("D&C Red No. 21 lake", CERTIFIED, NO, CERTIFIED, None, "82.2051"),
    ("D&C Red No. 22 lake", CERTIFIED, NO, CERTIFIED, None, "82.2051"),
    ("D&C Red No. 27 lake", CERTIFIED, NO, CERTIFIED, None, "82.2051"),
    ("D&C Red No. 28 lake", CERTIFIED, NO, CERTIFIED, None, "82.2051"),
    ("D&C Red No. 33 lake", CERTIFIED, NO, CERTIFIED, 3.0, "82.2051"),
    ("D&C Orange No. 5 lake", CERTIFIED, NO, CERTIFIED, 5.0, "82.2051"),
    ("FD&C Blue No. 1 lake", CERTIFIED, CERTIFIED, CERTIFIED, None, "82.51"),
    ("FD&C Yellow No. 5 lake", CERTIFIED, CERTIFIED, CERTIFIED, None, "82.51"),
    ("FD&C Red No. 40 lake", CERTIFIED, CERTIFIED, CERTIFIED, None, "74.2340"),
    # a mixture, and fillers that no rule recorded here lists as colours
    ("interference mica", UNKNOWN, UNKNOWN, UNKNOWN, None, "73.2496"),
    ("kaolin", UNKNOWN, UNKNOWN, UNKNOWN, None, "70.3(f)"),
    ("silica", UNKNOWN, UNKNOWN, UNKNOWN, None, "70.3(f)"),
]


@pytest.mark.parametrize(("name", "lips", "eye", "face", "limit", "section"), US, ids=[row[0] for row in US])
def test_united_states(name, lips, eye, face, limit, section):
    found = {use: permitted(name, "US", use) for use in USES}
    assert [ruling.status for ruling in found.values()] == [lips, eye, face]
    assert found["lips"].limit_percent == limit
    assert found["face"].limit_percent is None
    assert found["lips"].citation.startswith(f"21 CFR {section}")


def test_every_colourant_has_a_line_for_lips_in_the_united_states():
    assert sorted(row[0] for row in US) == sorted(NAMES)
    assert all(permitted(name, "US").how != "not recorded" for name in NAMES)


EUROPE_UNKNOWN = {"mica", "kaolin", "silica", "silver", "interference mica"}


@pytest.mark.parametrize("market", ["EU", "UK"])
@pytest.mark.parametrize("name", NAMES)
def test_europe(name, market):
    """Annex IV, mostly from memory: no limit by product type; CI 12085 at most 3 %; the rest not known."""
    expected = UNKNOWN if name in EUROPE_UNKNOWN else LIMITED if name == "D&C Red No. 36" else YES
    for use in USES:
        ruling = permitted(name, market, use)
        assert ruling.status == expected
        assert ruling.limit_percent == (3.0 if expected == LIMITED else None)


EU_READ = {
    # ECHA's list of Annex IV, "All cosmetic products": CI number, entry, purity
    "red iron oxide": ("CI 77491", 135, "E 172"),
    "D&C Red No. 6": ("CI 15850", 27, "E 180"),
    "D&C Red No. 33": ("CI 17200", 37, ""),
    "FD&C Red No. 40": ("CI 16035", 32, "E 129"),
}


@pytest.mark.parametrize("name", EU_READ)
def test_entries_of_annex_iv_that_were_read(name):
    number, entry, purity = EU_READ[name]
    ruling = permitted(number, "EU")
    assert (ruling.colourant.name, ruling.status, ruling.how) == (name, YES, "published")
    assert ruling.citation.endswith(f"Annex IV, entry {entry}")
    assert purity in ruling.why


@pytest.mark.parametrize("name", NAMES)
def test_only_those_entries_count_as_published(name):
    read = {*EU_READ, "D&C Red No. 7", "D&C Red No. 33 lake", "FD&C Red No. 40 lake"}  # the same entries
    assert (permitted(name, "EU").how == "published") == (name in read)
    assert permitted(name, "UK").how == "memory"


@pytest.mark.parametrize("market", ["CA", "JP"])
@pytest.mark.parametrize("use", USES)
@pytest.mark.parametrize("name", NAMES)
def test_canada_and_japan_are_unknown(name, use, market):
    ruling = permitted(name, market, use)
    assert (ruling.status, ruling.limit_percent, ruling.recorded) == (UNKNOWN, None, None)
    assert ruling.how == "not recorded"
    assert f"Look in: {ruling.citation}." in ruling.why


@pytest.mark.parametrize("market", MARKETS)
@pytest.mark.parametrize("name", NAMES)
def test_unknown_never_reads_as_allowed(name, market):
    for use in USES:
        ruling = permitted(name, market, use)
        unknown = "Do not take it as allowed" in ruling.why
        assert unknown == (ruling.status == UNKNOWN)
        assert not (unknown and "may be used" in ruling.why)


@pytest.mark.parametrize("market", ["US", "EU", "UK"])
@pytest.mark.parametrize("name", NAMES)
def test_memory_says_so_and_asks_to_check(name, market):
    ruling = permitted(name, market)
    says = "recorded from memory: check it with the text of" in ruling.why
    assert says == (ruling.how == "memory" and ruling.status != UNKNOWN)
    if says and market != "US":
        assert "Annex IV" in ruling.why


@pytest.mark.parametrize("name", [row[0] for row in US if row[1] == CERTIFIED])
def test_certified_says_certified_and_the_limit(name):
    ruling = permitted(name, "US")
    assert "only from a batch that the FDA has certified" in ruling.why
    assert ("At most" in ruling.why) == (ruling.limit_percent is not None)
    if ruling.limit_percent:
        assert f"At most {ruling.limit_percent:g} %" in ruling.why


def test_a_lake_is_not_taken_for_its_dye_in_the_united_states():
    """The dye may be used near the eye (74.2340); other lakes may not (81.1)."""
    assert "aluminium lake only" in permitted("Red 40 lake", "US", "eye area").why
    assert permitted("D&C Red No. 27 lake", "US").citation != permitted("D&C Red No. 27", "US").citation


@pytest.mark.parametrize("name", ["red iron oxide", "yellow iron oxide", "black iron oxide"])
def test_iron_oxides_name_their_impurity_limits(name):
    """21 CFR 73.2250(b): arsenic 3, lead 10, mercury 3 parts per million."""
    assert "3 ppm arsenic, 10 ppm lead and 3 ppm mercury" in permitted(name, "US").why


@pytest.mark.parametrize("market", MARKETS)
def test_titanium_dioxide_on_lips_carries_the_advice_of_2024(market):
    """SCCS/1661/23, 13 May 2024: "not sufficient to exclude the genotoxicity potential of almost all"."""
    for name in ("titanium dioxide", "titanium dioxide (anatase)"):
        assert "SCCS/1661/23" in permitted(name, market).why
        assert "SCCS" not in permitted(name, market, "face").why


@pytest.mark.parametrize(
    ("name", "market", "says"),
    [
        ("ultramarine", "US", "leave the lips out"),
        ("chromium oxide green", "EU", "free of chromate"),
        ("hydrated chromium oxide green", "UK", "free of chromate"),
        ("ferric ferrocyanide", "EU", "free of cyanide"),
        ("carmine", "US", "allergic"),
        ("silver", "US", "nail polish only"),
        ("CI 42090", "US", "D&C Blue No. 4"),  # shares the number
        ("interference mica", "US", "look up each part"),
    ],
)
def test_why_tells_what_else_matters(name, market, says):
    assert says in permitted(name, market).why


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("us", "US"),
        (" U.S.A. ", "US"),
        ("the United States", "US"),
        ("eu", "EU"),
        ("European Union", "EU"),
        ("Great  Britain", "UK"),
        ("GB", "UK"),
        ("Canada", "CA"),
        ("japan", "JP"),
    ],
)
def test_markets_in_plain_words(typed, code):
    assert permitted("mica", typed).market == code


@pytest.mark.parametrize("typed", ["", "Australia", "Northern Ireland", "USSR", "lips"])
def test_an_unknown_market_gets_the_list(typed):
    with pytest.raises(LabError, match=r"no market.*US \(United States\), EU .*, UK .*, CA .*, JP"):
        permitted("mica", typed)


@pytest.mark.parametrize(("typed", "use"), [("Lip", "lips"), ("eyes", "eye area"), ("Eye_Area", "eye area")])
def test_uses_in_plain_words(typed, use):
    assert permitted("mica", "US", typed).use == use


@pytest.mark.parametrize("typed", ["", "hair", "nails"])
def test_an_unknown_use_gets_the_list(typed):
    with pytest.raises(LabError, match="Choose one of: lips, eye area, face"):
        permitted("mica", "US", typed)


def test_an_unknown_colourant_is_refused_as_by_find():
    with pytest.raises(LabError, match="CI number"):
        permitted("ruby shimmer", "US")


def test_a_colourant_may_be_given_as_found():
    assert permitted(find("CI 77491"), "US") == permitted("red oxide", "us", "lip")


def test_a_ruling_cannot_be_changed():
    with pytest.raises(FrozenInstanceError):
        permitted("mica", "US").status = YES
