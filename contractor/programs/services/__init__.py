"""Write tokens, kept answers, hooks and deliveries."""

from contractor.programs.services.answers import keep_answer, lock_key, sweep_answers
from contractor.programs.services.errors import UnableToMake
from contractor.programs.services.hooks import (
    add_hook,
    claim_delivery,
    end_hook,
    mark_delivery,
    replay,
    secret_of,
    sweep_deliveries,
    tell,
)
from contractor.programs.services.tokens import (
    make_token,
    note_use,
    revoke_own,
    revoke_token,
    tell_tokens,
)

__all__ = [
    "UnableToMake",
    "add_hook",
    "claim_delivery",
    "end_hook",
    "keep_answer",
    "lock_key",
    "make_token",
    "mark_delivery",
    "note_use",
    "replay",
    "revoke_own",
    "revoke_token",
    "secret_of",
    "sweep_answers",
    "sweep_deliveries",
    "tell",
    "tell_tokens",
]
