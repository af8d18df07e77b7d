from labkit.ui.text import Html, html, joined, table


def test_what_a_maker_types_is_shown_as_text():
    nasty = '<script>alert("x")</script>'
    assert "<script>" not in html("<p>{}</p>", nasty)
    assert "<script>" not in table(["a", nasty], [[nasty, nasty]], nasty, numbers=1)


def test_markup_that_is_safe_already_is_not_escaped_twice():
    inner = html("<b>{}</b>", "a & b")
    assert html("<p>{}</p>", inner) == "<p><b>a &amp; b</b></p>"
    assert joined([inner, Html("<br>")]) == "<b>a &amp; b</b><br>"
