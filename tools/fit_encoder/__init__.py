"""Fits the packaged Whisper model's encoder, and the phoneme network on top of it, to people.

Two programs, a folder between them:

1. ``python -m tools.fit_encoder.gather FOLDER --people SPEECH --voices PACKAGE`` runs where Bench
   Companion is installed. It speaks some thousand sentences with free synthetic voices, takes
   people's speech and noises from folders, and writes all of it with the model's weights.
2. ``python -m tools.fit_encoder.fit FOLDER OUT`` runs on a machine with a GPU and PyTorch; it
   imports nothing of ``companion``, so that ``tools/`` and the folder are all it takes there.

What comes of it, ``encoder_changes.npz`` and ``phonemes.npz``, belongs in ``companion/recognize/``.
``DEVELOPERS.md`` says what to install and what to do with the two files.

Sources, none of which is part of this project:

- **People**: speechocean762 (Zhang et al., 2021, arXiv 2104.01378), English read aloud by people
  whose first language is Mandarin; available for free download for both commercial and
  non-commercial purposes, by its own page. ``people.py`` keeps 18 of the speakers back.
- **Synthetic voices**: those of ``spoken.py``, free ones of Debian and the package index.
- **Noises**: sound effects and music of the Debian packages of ``noises.py``, under their free
  licences, and noises computed by ``computed_noises.py``. Two of the packages and every third
  sound of two others are kept back.
"""
