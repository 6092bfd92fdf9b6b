"""What can go wrong with a log, and whose business it is.

Rules: every failure that leaves this package is an `AuditError`; its text can be shown to a person
as it is: where, what was found, what was allowed, what to do.
"""

from collections.abc import Sequence


class AuditError(Exception):
    """The base of all errors of this package; `str()` is one readable sentence."""


class Fault(AuditError):
    """One thing that format 1 does not allow, before it is known at which line it stands.

    `code` is stable and may be relied upon by programs; `why` is for people.
    """

    def __init__(self, code: str, why: str) -> None:
        super().__init__(why)
        self.code = code
        self.why = why


class Negative(AuditError):
    """The answer is no: what was given does not hold, or cannot be vouched for. Nothing is missing
    and nothing is broken here."""


class FolderError(AuditError):
    """A log folder, or a file in it, cannot be used."""


class FolderBusy(FolderError):
    """Another process holds the log folder: one active run a folder."""


class KeyFileError(AuditError):
    """A person's key file is missing, unreadable, of the wrong kind, or cannot be made."""


class WrongPassphrase(KeyFileError, Negative):
    """The passphrase does not open the key file."""


class AgentError(AuditError):
    """An ssh-agent did not sign: it is not there, silent, locked, refused, or answered nonsense."""


class TrustError(AuditError):
    """An allowed_signers file cannot be read or a line cannot be added to it."""


class ReceiptError(Negative):
    """A receipt cannot be made, or what was given is none."""


class CountersignError(Negative):
    """A countersignature cannot be given, or its file cannot be used."""


class FleetError(Negative):
    """A checkpoint, a proof or a fleet's index does not hold or cannot be made."""


class NotNow(AuditError):
    """The caller asked for a line that may not stand here; nothing was written."""


class SignatureOwed(NotNow):
    """`close` was asked for while people still owe signatures; `names` says who."""

    def __init__(self, names: Sequence[str]) -> None:
        super().__init__(
            f"not closed: resume signature owed by {', '.join(names)}; have them sign, then close"
        )
        self.names = tuple(names)


class LogLost(AuditError):
    """A write or sync failed; nothing more will be appended by this writer.

    What was acknowledged before is durable; the log stays `unclosed`.
    """


class RecoveryError(AuditError):
    """A run cannot be resumed; the text says why and what can be done instead."""


class Tampered(RecoveryError):
    """The log to be resumed does not hold: it was changed, not torn.

    `line` is the number of the first line that does not hold, `code` says how.
    """

    def __init__(self, line: int, offset: int, code: str, why: str) -> None:
        super().__init__(
            f"line {line} (byte {offset}) does not hold: {why}; the log is evidence now: "
            "copy it, leave this run, start another"
        )
        self.line = line
        self.offset = offset
        self.code = code


class NotReplayed(AuditError):
    """Raised by a replay hook that cannot run: a document is missing, `rules` is unknown."""


class ProcessLost(AuditError):
    """A process that verified a log failed: there is no verdict on it."""


class Stopped(AuditError):
    """Verification was interrupted: `judged` of `total` logs have a verdict, the rest has none."""

    def __init__(self, judged: int, total: int) -> None:
        super().__init__(
            f"interrupted: {judged} of {total} logs were judged; nothing is said of the rest, nor "
            "of what they come to together"
        )
        self.judged = judged
        self.total = total
