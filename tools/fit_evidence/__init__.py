"""How sure the recognizer may be: what makes a call believed, fitted on synthetic voices and on
people."""
