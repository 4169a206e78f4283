"""How likely it is that none of the sentences found is what was said.

The search lists what the grammar has and the sound suggests. With people, and in noise, what was
said is now and then not among it, and the best of the rest stands alone: sure, and wrong. Such a
sentence fits the sound badly, by the decoder or by its phonemes, and that is what is looked at.
"""

from __future__ import annotations

from companion.recognize.evidence import fit_of_phonemes, fit_of_tokens
from companion.recognize.weighing import Weighed

ALWAYS = -1.90
FOR_TOKENS = -5.36
FOR_PHONEMES = -0.86


def unlisted(best: Weighed) -> float:
    """Natural logarithm of how much likelier something else is than the best sentence, before the
    other sentences are looked at.

    The figures are fitted by ``python -m tools.fit_evidence``.

    Args:
        best: The best sentence found.
    """
    return ALWAYS + FOR_TOKENS * fit_of_tokens(best) + FOR_PHONEMES * fit_of_phonemes(best)
