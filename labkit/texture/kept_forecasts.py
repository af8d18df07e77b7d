"""What was forecast for each pour before it could be judged, kept against what then happened."""

import pandas as pd

from labkit.quantities import in_ten
from labkit.texture.learn import SET_FROM, learn
from labkit.texture.trial import TextureTrial
from labkit.texture.wording import FAIR_AFTER_H

COLUMNS = ("pour", "chance", "forecast", "word", "right")


def forecasts(trial: TextureTrial) -> pd.DataFrame:
    """Return a row for each pour that was judged: what was forecast before, and the word that came.

    The forecast is made anew from the notes that were there before the pour was first felt as
    set, for the hour at which it was; nothing noted later counts in it.

    Returns
    -------
    DataFrame
        "pour"; "chance" of the wanted word; "forecast", the word that was likeliest; "word",
        what was felt; "right", whether that was the wanted one.
    """
    readings, labels = trial.readings(), {cast.entry: cast.label for cast in trial.casts}
    judged = readings[(readings["word"] != "") & (readings["hours"] >= SET_FROM * FAIR_AFTER_H)]
    rows = []
    for cast, first in judged.sort_values("felt").groupby("cast", sort=False).first().iterrows():
        before = readings[readings["felt"] < first["felt"]]
        if before.empty:
            continue
        shares = pd.DataFrame([first[list(trial.question.parts)]], dtype=float)
        model = learn(trial, trial.olds, before, first["felt"])
        if model is None:
            continue
        known = cast in model.gathered.labels
        told = model.predict(shares, first["hours"], pour=[cast if known else None])
        chances = told[list(trial.question.ladder)].iloc[0]
        wanted = trial.question.wanted
        word = first["word"]
        rows.append([labels[str(cast)], float(chances[wanted]), str(chances.idxmax()), word, word == wanted])
    return pd.DataFrame(rows, columns=list(COLUMNS))


def forecast_words(found: pd.DataFrame) -> list[str]:
    """Return how the forecasts fared, in sentences: how many were right, beside how many were promised."""
    if found.empty:
        return ["No pour that was forecast has been judged yet: feel one after two days."]
    count, right, promised = len(found), int(found["right"].sum()), float(found["chance"].sum())
    said = f"Forecast and then judged: {count}. Right: {right}. The chances had promised {promised:.1f}."
    each = [
        f"Pour {row['pour']}: {in_ten(row['chance'])} right, likeliest “{row['forecast']}”; "
        f"it came out “{row['word']}”."
        for _, row in found.iterrows()
    ]
    return [said, *each]
