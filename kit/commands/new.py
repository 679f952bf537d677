"""`facedown new`: a session file to edit."""

from __future__ import annotations

import datetime
import os
from pathlib import Path

import click

from kit.errors import FacedownError
from kit.files import write_atomically
from kit.session import (
    LEAST_GLASSES,
    LOSS_PERCENT,
    MOST_GLASSES,
    PAPERS,
    SHUFFLES,
    VIAL_ML,
    Paper,
    Shuffle,
    default_minutes,
    installed_shelf,
)

# Invented drinks and people.
_POURS = (
    ("heron-marsh", "Heron Marsh", "daiginjo", 16.0),
    ("lantern-hill", "Lantern Hill", "kimoto junmai", 15.0),
    ("quiet-orchard", "Quiet Orchard", "honjozo", 15.0),
    ("stone-ferry", "Stone Ferry", "tokubetsu junmai", 15.5),
    ("tidewater", "Tidewater", "nama genshu", 17.5),
)
_TASTERS = (("ines", "Ines"), ("tomas", "Tomas"), ("wren", "Wren"))


def _installed_drink(_: click.Context, __: click.Parameter, drink: str) -> str:
    drinks = installed_shelf().drinks
    if drink not in drinks:
        raise click.BadParameter(f"{drink!r} has no word list; there is one for {', '.join(drinks)}.")
    return drink


def _installed_language(_: click.Context, __: click.Parameter, language: str) -> str:
    languages = installed_shelf().languages
    if language not in languages:
        raise click.BadParameter(f"there are no printed words in {language!r}; there are in {', '.join(languages)}.")
    return language


@click.command("new")
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path))
@click.option("--drink", default="sake", show_default=True, callback=_installed_drink, help="Whose word list to use.")
@click.option(
    "--glasses",
    type=click.IntRange(LEAST_GLASSES, MOST_GLASSES),
    default=LEAST_GLASSES,
    show_default=True,
    help="How many drinks the flight has.",
)
@click.option(
    "--shuffle",
    type=click.Choice(SHUFFLES),
    default="host",
    show_default=True,
    help="Who moves the glasses between the rounds.",
)
@click.option("--paper", type=click.Choice(PAPERS), default="A4", show_default=True, help="What to print on.")
@click.option(
    "--language",
    default="en",
    show_default=True,
    callback=_installed_language,
    help="Of the printed words: en is English, ja Japanese.",
)
@click.option("--force", is_flag=True, help="Write over a file that is there.")
def command(file: Path, drink: str, glasses: int, shuffle: Shuffle, paper: Paper, language: str, force: bool) -> None:
    """Write the session file FILE, with invented drinks and tasters in it, to be edited."""
    if os.path.lexists(file) and not force:
        raise FacedownError(f"{file}: this file is there already.", "Choose another name, or add --force.")
    write_atomically(file, session_file_text(drink, glasses, shuffle, paper, datetime.date.today(), language))
    click.echo(f"Wrote {file}. Edit it, then run: facedown check {file}", err=True)


def session_file_text(
    drink: str, glasses: int, shuffle: Shuffle, paper: Paper, date: datetime.date, language: str = "en"
) -> str:
    """Return a commented session file of that many invented pours."""
    return (
        "\n\n".join(
            [
                _head(drink, glasses, shuffle, paper, date, language),
                "# The drinks, three to five, in coaster order 1, 2, 3 … All but the name may be left out.\n"
                "# look: clear, straw, amber or cloudy. note: a remark of the host's own.",
                *(_pour(drink, at) for at in range(glasses)),
                "# The tasters. The id (small letters, digits, hyphens) tells the same taster over many sittings.\n"
                '# For posted kits: address = ["first line", "second line"], six lines at most.',
                *(f'[[tasters]]\nid   = "{taster_id}"\nname = "{name}"' for taster_id, name in _TASTERS),
            ]
        )
        + "\n"
    )


def _head(drink: str, glasses: int, shuffle: Shuffle, paper: Paper, date: datetime.date, language: str) -> str:
    keys = ""
    if shuffle == "host":
        keys = '# keys   = "own"       # an "own" key for each, one "shared" key, or a "balanced" set\n'
    coasters = '# coasters = "kit"     # "kit": for this sitting alone; "house": a set to use again and again\n'
    if shuffle == "twin":
        coasters = ""
    spoken = ("# " if language == "en" else "") + f'language = "{language}"'.ljust(21)
    vessel, pour_ml = ("vial", 20) if shuffle == "twin" else ("glass", 75)
    return f"""\
# A session of facedown. Change what stands in quotes, and the numbers. What follows a # is not read.
# Then: facedown check FILE

title    = "Saltmarsh Sake Circle, flight of {glasses}"
date     = {date.isoformat()}
drink    = "{drink}"{" " * max(1, 10 - len(drink))}# whose word list the note forms offer
shuffle  = "{shuffle}"      # "host": somebody who does not taste moves the glasses by the sealed key
                       # "hand": the tasters mix them; "twin": two vials of every drink
{keys}paper    = "{paper}"{" " * (10 - len(paper))}# "A4" or "Letter"
{coasters}# minutes  = {default_minutes(glasses):<9g} # of each round; left out, 84 seconds a glass
# pour_ml  = {pour_ml:<9} # in each {vessel}
{spoken}# of the printed words{_post(date) if shuffle == "twin" else ""}"""


def _post(date: datetime.date) -> str:
    """What a kit by post has beside: offered where there is a default, else with an invented club's."""
    return f"""
# vial_ml  = {VIAL_ML:<9g} # what a vial holds
# loss_percent = {LOSS_PERCENT:<5g} # to have on top, for what is spilt or stays behind

# Printed in the letters: where the members send their sheets, and until when.
send_to  = ["Saltmarsh Sake Circle, 12 Sluice Lane, Saltmarsh", "or by mail: sheets@saltmarsh.example"]
send_by  = {(date + datetime.timedelta(weeks=2)).isoformat()}"""


def _pour(drink: str, at: int) -> str:
    pour_id, name, style, abv_percent = _POURS[at]
    # The styles and strengths are sake's: another drink's file leaves them to the host.
    hint = "" if drink == "sake" else "# "
    return (
        f'[[pours]]\nid    = "{pour_id}"\nname  = "{name}"\n{hint}style = "{style}"\n'
        f'{hint}abv   = {abv_percent}\nlook  = "clear"'
    )
