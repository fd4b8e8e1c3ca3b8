"""Stage 7: what is made for a loss: pieces, moulds, backings, templates, patterns."""
