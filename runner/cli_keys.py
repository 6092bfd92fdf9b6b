"""The commands of people's signing keys: made, listed, trusted, revoked.

Rules: as in `cli.py`, which adds them to its own: a command imports only what it uses, help leads
with an example, data on standard output, messages on standard error.
"""

from __future__ import annotations

import os
from pathlib import Path

import click

KEYS_HELP = """People's signing keys.

\b
Examples:
  latchword keys new "A Holt"                made here, with a passphrase
  latchword keys new "B Ray" --key ~/.ssh/id_ed25519.pub
  latchword keys trust "A Holt" --until 2027-12-31
  latchword keys revoke "A Holt" --at 2026-11-24T21:50Z

A key signs through ssh-agent where the agent holds it."""


@click.command(
    "new", short_help="Make a key for NAME, protected by a passphrase.",
    help="""Make a key for NAME, protected by a passphrase; or take one that is there already.

\b
Examples:
  latchword keys new "A Holt"
  latchword keys new "B Ray" --key ~/.ssh/id_ed25519.pub

A key is never written over. Whoever verifies must trust it: latchword keys trust NAME.""",
)  # fmt: skip
@click.argument("name")
@click.option("--key", type=click.Path(path_type=Path), metavar="FILE.pub",
              help="Take this key; its private half stays where it is.")  # fmt: skip
def keys_new(name: str, key: Path | None) -> int:
    """A new key."""
    from runner.commands.keys import keys_new as make

    return make(name, key)


@click.command(
    "list", short_help="Every key trusted, kept here, or held by the agent.",
    help="""Every key trusted, kept here, or held by the agent.

\b
Examples:
  latchword keys list
  latchword keys list --json

Each is told with its fingerprint, its dates, its revocation, and what signs with it here.""",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="One JSON object a key.")
def keys_list(as_json: bool) -> int:
    """The keys."""
    from runner.commands.keys import keys_list as show_keys

    return show_keys(dict(os.environ), as_json=as_json)


@click.command(
    "trust", short_help="Trust the key of NAME when logs are verified here.",
    help="""Trust the key of NAME when logs are verified here, perhaps between dates (UTC).

\b
Examples:
  latchword keys trust "A Holt"                 a key made on this machine
  latchword keys trust "B Ray" --key b-ray.pub  a public key that was brought
  latchword keys trust "A Holt" --from 2026-11-01 --until 2027-10-31

Compare the fingerprint with its holder: ssh-keygen -l -f FILE.pub""",
)  # fmt: skip
@click.argument("name")
@click.option("--key", type=click.Path(path_type=Path), help="A public key file from elsewhere.")
@click.option("--from", "valid_from", default="", metavar="DATE", help="2026-11-24, or a time.")
@click.option("--until", default="", metavar="DATE", help="The last day, or the last second.")
def keys_trust(name: str, key: Path | None, valid_from: str, until: str) -> int:
    """Trusting a key."""
    from runner.commands.keys import keys_trust as trust

    return trust(name, key, valid_from, until)


@click.command(
    "revoke", short_help="Revoke the keys of NAME, or of a FINGERPRINT, for good.",
    help="""Revoke the keys of NAME, or the key of a FINGERPRINT, for good.

\b
Examples:
  latchword keys revoke "A Holt"                         from now on
  latchword keys revoke "A Holt" --at 2026-11-24T21:50Z  since it was lost
  latchword keys revoke SHA256:…                         one key of several

What it signed before counts only in logs that a witness knew before: a receipt.""",
)  # fmt: skip
@click.argument("which", metavar="NAME|FINGERPRINT")
@click.option("--at", default="", metavar="DATE", help="2026-11-24T21:50Z, UTC. Bare: now.")
def keys_revoke(which: str, at: str) -> int:
    """Revoking a key."""
    from runner.commands.keys import keys_revoke as revoke

    return revoke(which, at)


def add_to(cli: click.Group) -> None:
    """Adds the commands of keys to the others."""
    keys = type(cli)("keys", help=KEYS_HELP)
    for command in (keys_new, keys_list, keys_trust, keys_revoke):
        keys.add_command(command)
    cli.add_command(keys)
