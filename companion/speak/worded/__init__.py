"""Every event in words, once for each surface that shows or says it."""
