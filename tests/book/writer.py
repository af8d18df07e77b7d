"""Run as a script: append entries to a book and print each id once its append has returned."""

import sys

from labkit.book import TrialBook


def main(place: str, tag: str, count: int) -> None:
    with TrialBook(place) as book:
        for number in range(count):
            entry = book.append("attic.box", {"tag": tag, "number": number}, trial="Many at once")
            print(entry.id, flush=True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
