"""Words: numbers and codes in, sentences, captions and tables out."""
