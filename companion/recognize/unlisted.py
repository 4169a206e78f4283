"""How likely it is that none of the sentences found is what was said.

The search lists what the grammar has and the sound suggests. With people, and in noise, what was
said is now and then not among it, and the best of the rest stands alone: sure, and wrong. Such a
sentence fits the sound badly, by the decoder or by its phonemes, or a text that no grammar held is
much likelier, or the phonemes are heard unsurely, and that is what is looked at.
"""

from __future__ import annotations

from companion.recognize.evidence import Evidence

ALWAYS = -2.67
FOR_TOKENS = -4.10
FOR_PHONEMES = -0.79
FOR_FREE_TEXT = 1.76

FOR_DOUBT = -0.43

FIGURES = (ALWAYS, FOR_TOKENS, FOR_PHONEMES, FOR_FREE_TEXT, FOR_DOUBT)
Figures = tuple[float, float, float, float, float]


def unlisted(best: Evidence, figures: Figures = FIGURES) -> float:
    """Natural logarithm of how much likelier something else is than the best sentence, before the
    other sentences are looked at.

    The figures are fitted by ``python -m tools.fit_evidence``.

    Args:
        best: What speaks for and against the best sentence found.
        figures: In the order of ``FIGURES``.
    """
    always, for_tokens, for_phonemes, for_free_text, for_doubt = figures
    return (
        always
        + for_tokens * best.score_each
        + for_phonemes * best.phonemes_each
        + for_free_text * best.free_better
        + for_doubt * best.doubt
    )
