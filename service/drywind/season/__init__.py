"""A past weather year watched as if it were to come, and how right what was said of it was."""
