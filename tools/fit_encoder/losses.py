"""What is made small: five losses over a batch, weighed by ``SHARES``.

- ``mse``: the squared difference of the fitted encoding in noise to the unchanged one of the clean
  speech, as a share of that one's variance.
- ``ctc``: the loss of connectionist temporal classification (Graves et al., 2006) of the phonemes
  that the network hears in the fitted encoding, per phoneme, in nats.
- ``kl``: the Kullback-Leibler divergence of what the decoder would write after the fitted encoding
  from what it would write after the unchanged one of the clean speech, per token, in nats.
- ``ce``: the cross-entropy of what was said, as the decoder would write it after the fitted
  encoding, per token, in nats.
- ``rival``: how near a rival comes to what was said: by the phonemes and by the decoder, the
  logarithm of one plus the likelihood of the rival over that of what was said, in nats (for two
  hypotheses this is what maximum mutual information asks for: Bahl et al., 1986).

The first and the third hold the encoder to what it was, so that it still serves what nobody here
says; the others bring it to what was said. Where nobody speaks, there are no phonemes to be heard,
and the encoding is that of silence; nothing is asked of the decoder.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor
from torch.nn import functional

from tools.fit_encoder.effects import DEVICE, FRAME, LogMel, holed
from tools.fit_encoder.layout import MEL, MODEL
from tools.fit_encoder.networks import Decoder, Encoder, PhonemeNetwork, Weights
from tools.fit_encoder.sound_batches import Batch, Sounds, Utterance

SHARES: Mapping[str, float] = {"mse": 1.0, "ctc": 1.0, "kl": 0.5, "ce": 0.3, "rival": 0.15}
FRAMES_PER_SECOND = 50
"""Of the encoder's output."""
FRAMES_AFTER = 4
"""That are looked at after a sound's end."""
HOLE = 6
"""Frames that the phoneme network loses of every sound, so that no phoneme hangs on one moment."""
BLANK = 0


@dataclass(frozen=True, slots=True, eq=False)
class Loss:
    """The losses of a batch by name, and the phoneme network's scores that they come of.

    Attributes:
        each: By the names above.
        scores: Shape (batch, frames, kinds of phonemes).
        frames: How many of them are of the sound, shape (batch,).
    """

    each: Mapping[str, Tensor]
    scores: Tensor
    frames: Tensor

    @property
    def whole(self) -> Tensor:
        """What is made small."""
        return sum(SHARES[name] * value for name, value in self.each.items())


class Model:
    """The unchanged model, and beside it what is fitted."""

    def __init__(self, folder: Path, *, rank: int, width: int) -> None:
        """Read the weights.

        Args:
            folder: To fit on.
            rank: Of the differences of the encoder's matrices.
            width: Of the phoneme network's layers.
        """
        with np.load(folder / MODEL) as stored:
            arrays = {name: stored[name] for name in stored.files}
        self.start = [int(token) for token in arrays["start"]]
        self.end = int(arrays["end"])
        self.features = LogMel(np.load(folder / MEL))
        weights = Weights(arrays)
        self.unchanged = Encoder(weights, 0).to(DEVICE).eval()
        self.fitted = Encoder(weights, rank).to(DEVICE)
        self.decoder = Decoder(weights)
        self.phonemes = PhonemeNetwork(width).to(DEVICE)

    def fitting(self, on: bool) -> None:
        """Whether values are left out by chance."""
        self.fitted.train(on)
        self.phonemes.train(on)

    def loss(
        self,
        draw: random.Random,
        sounds: Sounds,
        chosen: Sequence[Utterance],
        window: int,
        *,
        varied: bool = True,
        noise_at: float | None = None,
        late: bool = False,
    ) -> Loss:
        """The losses of a batch; the arguments are those of ``Sounds.batch``.

        Where the sounds are varied, some bands and moments are left out of them besides.
        """
        with torch.no_grad():
            batch = sounds.batch(draw, chosen, window, varied=varied, noise_at=noise_at, late=late)
            clean, heard = self.features(batch.clean), self.features(batch.heard)
            if varied:
                heard = holed(heard, batch.ends)
        frames = _frames(batch, window)
        with _in_half_precision():
            with torch.no_grad():
                known = self.unchanged(clean)
            got = self.fitted(heard)
        scores = self.phonemes(with_hole(got.float()) if varied else got.float())
        mse = _difference(got.float(), known.float(), frames)
        clips, spoken = [one.clip for one in chosen], batch.spoken
        said = _said(chosen, spoken)
        phonemes = _likelihood(scores, frames, said)
        known_or_silent = torch.tensor([bool(clip.phonemes) for clip in clips], device=DEVICE)
        known_or_silent |= ~spoken
        lengths = torch.tensor([max(1, len(one)) for one in said], device=DEVICE)
        ctc = _mean(-phonemes / lengths, known_or_silent)
        ways = [draw.randrange(len(clip.tokens)) for clip in clips]
        texts = [clip.tokens[way] for clip, way in zip(clips, ways, strict=True)]
        kl, missed, counted = self._as_written(known, got, texts)
        counted = counted * spoken[:, None]
        tokens = counted.sum().clamp_min(1)
        losses = {
            "mse": mse,
            "ctc": ctc,
            "kl": (kl * counted).sum() / tokens,
            "ce": (missed * counted).sum() / tokens,
        }
        rivals = [
            draw.choice(clip.rivals) if speaks and clip.rivals else None
            for clip, speaks in zip(clips, spoken.tolist(), strict=True)
        ]
        have = torch.tensor([one is not None for one in rivals], device=DEVICE)
        if have.any():
            # Where there is none, what was said stands against itself, and is not counted.
            others = [one or clip for one, clip in zip(rivals, clips, strict=True)]
            written = [one.tokens[way] for one, way in zip(others, ways, strict=True)]
            sounding = _likelihood(scores, frames, [one.phonemes for one in others])
            _, missed_then, counted_then = self._as_written(known, got, written)
            by_phonemes = functional.softplus(sounding - phonemes)
            by_decoder = functional.softplus(
                (missed * counted).sum(1) - (missed_then * counted_then).sum(1)
            )
            losses["rival"] = _mean(by_phonemes, have & known_or_silent) + _mean(by_decoder, have)
        return Loss(losses, scores, frames)

    def encoded(
        self, draw: random.Random, sounds: Sounds, chosen: Sequence[Utterance], window: int
    ) -> tuple[Tensor, Tensor, list[tuple[int, ...]]]:
        """What the fitted encoder gives of varied sounds, in half precision, how many frames each
        has, and its phonemes; the arguments are those of ``Sounds.batch``. Clips whose
        pronunciation is not known are left out."""
        chosen = [one for one in chosen if one.clip.phonemes]
        with torch.no_grad():
            batch = sounds.batch(draw, chosen, window)
            with _in_half_precision():
                encoded = self.fitted(self.features(batch.heard))
        return encoded.half(), _frames(batch, window), _said(chosen, batch.spoken)

    def phonemes_of(self, heard: Tensor) -> Tensor:
        """Scores of the phonemes in sounds: shape (batch, frames, kinds)."""
        with _in_half_precision():
            encoded = self.fitted(self.features(heard))
        return self.phonemes(encoded.float())

    def _as_written(
        self, known: Tensor, got: Tensor, ways: Sequence[Sequence[int]]
    ) -> tuple[Tensor, Tensor, Tensor]:
        """Divergence and cross-entropy of each token, and which tokens count, (batch, tokens)."""
        texts = [[*self.start, *way, self.end] for way in ways]
        shape = (len(texts), max(map(len, texts)))
        tokens = torch.full(shape, self.end)
        counted = torch.zeros(*shape)
        for row, text in enumerate(texts):
            tokens[row, : len(text)] = torch.tensor(text)
            counted[row, len(self.start) : len(text)] = 1
        tokens, counted = tokens.to(DEVICE), counted.to(DEVICE)
        before, after, counted = tokens[:, :-1], tokens[:, 1:], counted[:, 1:]
        with _in_half_precision():
            with torch.no_grad():
                sure = self.decoder(known, before).float().log_softmax(-1)
            heard = self.decoder(got, before)
        heard = heard.float().log_softmax(-1)
        divergence = (sure.exp() * (sure - heard)).sum(-1)
        return divergence, -heard.gather(-1, after[..., None])[..., 0], counted

    def check(self, check: Mapping[str, NDArray[np.generic]]) -> str:
        """Compute what the program itself computed, and say how far apart the two are.

        Args:
            check: The sound, its features, its encoding by the engine's eight bits and the three
                likeliest tokens to begin with.
        """
        sound = torch.zeros(1, check["mel"].shape[1] * 160, device=DEVICE)
        samples = torch.from_numpy(check["samples"]).to(DEVICE)
        sound[0, : len(samples)] = samples
        with torch.no_grad():
            features = self.features(sound)
            encoded = self.unchanged(features)[0].cpu().numpy()
            start = torch.tensor([self.start], device=DEVICE)
            scores = self.decoder(torch.from_numpy(check["encoded"])[None].to(DEVICE), start)[0, -1]
        features_off = np.abs(features[0].cpu().numpy() - check["mel"]).max()
        off = np.sqrt(((encoded - check["encoded"]) ** 2).mean())
        return (
            f"features off by {features_off:.1e}; encoding off by {off:.3f} (root mean square) of "
            f"{check['encoded'].std():.3f}; likeliest tokens {scores.topk(3).indices.tolist()}, "
            f"should be {check['next'].tolist()}"
        )


def _in_half_precision() -> torch.autocast:
    return torch.autocast(DEVICE, dtype=torch.bfloat16, enabled=DEVICE == "cuda")


def _frames(batch: Batch, window: int) -> Tensor:
    frames = (batch.ends.float() / FRAME).ceil().long() + FRAMES_AFTER
    return frames.clamp_max(window * FRAMES_PER_SECOND)


def _difference(got: Tensor, known: Tensor, frames: Tensor) -> Tensor:
    place = torch.arange(known.shape[1], device=DEVICE)[None]
    valid = (place < frames[:, None]).float()[..., None]
    squared = (got - known).square() * valid
    return squared.sum() / (valid.sum() * known.shape[2]) / known.var()


def with_hole(encoded: Tensor) -> Tensor:
    """What the encoder gives without ``HOLE`` frames of each sound, shape as before."""
    batch, count, _ = encoded.shape
    begin = torch.randint(0, count, (batch, 1), device=DEVICE)
    place = torch.arange(count, device=DEVICE)[None]
    hole = (place >= begin) & (place < begin + HOLE)
    return torch.where(hole[..., None], torch.zeros_like(encoded), encoded)


def _likelihood(scores: Tensor, frames: Tensor, said: Sequence[Sequence[int]]) -> Tensor:
    """Logarithm of how likely phonemes are, shape (batch,); 0 where they are too many."""
    lengths = torch.tensor([len(phonemes) for phonemes in said])
    target = torch.zeros(len(said), max(1, int(lengths.max())), dtype=torch.long)
    for row, phonemes in enumerate(said):
        target[row, : len(phonemes)] = torch.tensor(phonemes)
    return -functional.ctc_loss(
        scores.float().log_softmax(-1).transpose(0, 1),
        target.to(DEVICE),
        frames,
        lengths.to(DEVICE),
        blank=BLANK,
        reduction="none",
        zero_infinity=True,
    )


def phoneme_loss(scores: Tensor, frames: Tensor, said: Sequence[Sequence[int]]) -> Tensor:
    """The loss ``ctc`` of phonemes that are all known.

    Args:
        scores: Shape (batch, frames, kinds of phonemes).
        frames: How many are of each sound.
        said: The phonemes; none where nobody speaks.
    """
    lengths = torch.tensor([max(1, len(one)) for one in said], device=DEVICE)
    return (-_likelihood(scores, frames, said) / lengths).mean()


def _said(chosen: Sequence[Utterance], spoken: Tensor) -> list[tuple[int, ...]]:
    return [
        one.clip.phonemes if speaks else ()
        for one, speaks in zip(chosen, spoken.tolist(), strict=True)
    ]


def _mean(values: Tensor, counted: Tensor) -> Tensor:
    return (values * counted).sum() / counted.sum().clamp_min(1)
