"""The recipe panel without a browser: from what was poured to a card."""

import re
from html.parser import HTMLParser

import pytest
from presses import press, standing_in

from labkit.batch.record import Added
from labkit.batch.trial import start_batch
from labkit.kitchen import RecipePanel, recipe_colour
from labkit.recipe.card import card_of, markdown, page
from labkit.recipe.publish import write_card
from labkit.recipe.written import WrittenRecipe, poured
from labkit.texture.begin import start_trial

LINES = (
    ("castor oil", "50"), ("shea butter", "20"), ("beeswax", "16,5"), ("CI 77491", "8"),
    ("titanium dioxide", "2"), ("ultramarine", "0.3"),
)  # fmt: skip
NASTY = "<img src=x onerror=alert(1)> | *rose*"


def told(widget):
    return re.sub(r"<[^>]+>", " ", widget.value)


def typed(panel, **changed):
    values = standing_in(panel.question_form)
    values["lines"] = [
        {"name": name, "grams": grams, "counts": "guess from its name", "price": ""} for name, grams in LINES
    ]
    values["how"][0] |= {
        "work": "Melt it.\nPour it.",
        "right": "It glides.",
        "pour_c": "64",
        "waiting_h": "48",
    }
    values["details"][0]["name"] = "Rosewood"
    for place, text in changed.items():
        group, name = place.split("__")
        values[group][0][name] = text
    return values


@pytest.fixture
def panel(book):
    made = RecipePanel(book)
    yield made
    assert made.errors == []


@pytest.fixture
def asked(panel):
    assert press(panel.question_form, typed(panel))["saved"]
    return panel


def shown(panel, place):
    return panel.places[place].layout.display != "none"


def test_a_recipe_shows_size_weighing_permit_label_and_card(asked):
    assert "12 of 4.5 g" in told(asked.shown["becomes"])
    assert "make 58.7 g" in told(asked.shown["becomes"])
    assert "By weighing alone" in told(asked.shown["weighed"])
    assert "red iron oxide" in told(asked.shown["permitted"])
    assert "Cera Alba" in told(asked.shown["labelled"])
    assert "Order of work" in asked.card.html
    assert "Judge it after 48 h" in asked.card.html


def test_a_small_pigment_is_offered_a_premix(asked):
    assert "ultramarine is small for your scale" in told(asked.shown["weighed"])


def test_unknown_is_never_shown_as_allowed_and_not_allowed_is_said(panel):
    values = typed(panel, markets__US="yes")
    assert press(panel.question_form, values)["saved"]
    said = told(panel.shown["permitted"])
    assert "ultramarine" in said
    assert "not allowed" in said
    assert (
        "Lips, US: red iron oxide allowed, titanium dioxide allowed, ultramarine not allowed"
        in panel.card.html
    )


@pytest.mark.parametrize(
    ("changed", "place", "said"),
    [
        ({"lines__grams": "1,234"}, "lines/1/grams", "could be"),
        ({"lines__grams": "12 %"}, "lines/1/grams", "this is in g"),
        ({"lines__grams": ""}, "lines/1/grams", "How many grams"),
        ({"lines__name": "Cera Alba"}, "lines/3/name", "once more"),
        ({"lines__name": "my secret"}, "lines/1/counts", "choose one"),
        ({"lines__price": "0"}, "lines/1/price", "cannot be"),
        ({"markets__EU": ""}, "markets//EU", "Choose one"),
        ({"asked__containers": "0"}, "asked//containers", "cannot be"),
        ({"details__spoons": "carmine"}, "details//spoons", "not in this recipe"),
    ],
)
def test_what_is_wrong_is_marked_at_its_place(panel, changed, place, said):
    answer = press(panel.question_form, typed(panel, **changed))
    assert said in answer["faults"][place]
    assert panel.trial is None


def test_a_changed_recipe_is_another_and_says_what_it_came_from(asked):
    first = asked.trial
    values = typed(asked, lines__grams="48")
    values["details"][0]["name"] = "Rosewood, firmer"
    assert press(asked.question_form, values)["saved"]
    assert asked.trial.written.came_from == first.recipe.version
    assert WrittenRecipe(asked.book, first.entry).recipe.version == first.recipe.version
    assert [each.name for each in asked.trial.descent()] == ["Rosewood", "Rosewood, firmer"]
    assert "Rosewood → Rosewood, firmer" in told(asked.shown["standing"])
    asked.other.value = first.entry
    assert "wax to oil" in told(asked.shown["compared"])


def test_a_recipe_begins_with_what_was_poured(book):
    trial = start_trial(book, {"shea butter": 12, "castor oil": 20, "beeswax": 6}, step_g=0.1).log_pour(1)
    batch = start_batch(book, [{"name": "castor oil", "grams": 5.0, "kind": "oil"}], "Noon", pour_c=61.0)
    batch.log(Added, ingredient="castor oil", grams=5.5)
    assert [each.label for each in poured(book)] == ["batch “Noon”", f"pour 1 of “{trial.name}”"]
    panel = RecipePanel(book)
    panel.begin.value = "0"
    values = standing_in(panel.question_form)
    assert values["lines"][0]["grams"] == "5.5"
    assert values["how"][0]["pour_c"] == "61"
    assert press(panel.question_form, values)["saved"]
    assert panel.trial.written.source == "batch “Noon”"
    assert panel.errors == []


def test_a_tube_has_a_price_once_every_line_has(panel):
    values = typed(panel)
    for row in values["lines"]:
        row["price"] = "10"
    values["details"][0]["container_price"] = "0,5"
    assert press(panel.question_form, values)["saved"]
    grams = 12 * 4.5 / 0.92
    each = (grams / 1000 * 10 + 6.0) / 12
    assert f"{each:.2f} each" in told(panel.shown["cost"])
    values["lines"][0]["price"] = ""
    values["details"][0]["name"] = "another"
    press(panel.question_form, values)
    assert "castor oil: no price" in told(panel.shown["cost"])


def test_what_could_stand_in_leaves_out_what_is_avoided(asked):
    asked.material.value = "beeswax"
    assert "candelilla wax" in told(asked.shown["instead"])
    asked.avoid.value = "castor"
    assert "Left out, since it is avoided: " in told(asked.shown["instead"])
    asked.avoid.value = "moonlight"
    assert asked.guard.errors
    asked.guard.errors.clear()


def test_the_card_is_written_as_a_page_and_as_markdown(asked, tmp_path):
    made = write_card(asked.trial, folder=tmp_path / "cards")
    assert [each.suffix for each in made] == [".html", ".md"]
    assert asked.trial.recipe.version[:8] in made[0].name
    assert made[0].read_text(encoding="utf-8") == page(card_of(asked.trial))
    assert write_card(asked.trial, folder=tmp_path / "cards") == made


def test_a_folder_that_cannot_be_written_is_said(asked, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(Exception, match="cannot be written"):
        write_card(asked.trial, folder=tmp_path / "file")


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open = set()

    def handle_starttag(self, tag, attrs):
        self.open.add(tag)


def test_markup_and_marks_in_names_are_text(panel):
    values = typed(panel)
    values["details"][0]["name"] = NASTY
    values["lines"][0] = {"name": f"{NASTY} oil", "grams": "5", "counts": "oil", "price": ""}
    values["how"][0]["work"] = "<script>alert(1)</script>"
    assert press(panel.question_form, values)["saved"]
    card = card_of(panel.trial)
    tags = Tags()
    tags.feed(page(card) + panel.card.html)
    assert not tags.open & {"img", "script"}
    text = markdown(card)
    assert "<img" not in text.replace("\\<", "")
    assert all(line.count(" | ") == 2 for line in text.splitlines() if line.startswith("| "))


def test_spoons_stand_beside_grams_never_instead(panel):
    assert press(panel.question_form, typed(panel, details__spoons="titanium dioxide"))["saved"]
    assert "by the level spoon" in panel.card.html
    row = next(each for each in card_of(panel.trial).rows if each[0] == "titanium dioxide")
    assert re.fullmatch(r"[\d.]+", row[2])
    assert "% off)" in row[3]


def test_a_shade_is_forecast_by_the_makers_pigments(asked, book):
    lab = recipe_colour(book)(asked.trial.recipe.loads())
    assert "Its shade, thick" in asked.card.html
    assert f"L* {lab[0]:.0f}" in asked.card.html


def test_a_panel_opened_anew_shows_the_same_card(asked, book):
    again = RecipePanel(book)
    assert again.card.html == asked.card.html
    assert again.errors == []
