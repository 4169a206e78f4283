"""An utterance and a grammar to ranked hypotheses: the engines and their choice."""
