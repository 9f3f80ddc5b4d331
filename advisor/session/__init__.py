"""The conversation without a screen: a question out, an answer or a word in."""
