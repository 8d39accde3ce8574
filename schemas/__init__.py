"""The shapes of requests and answers: what is let in, and how answers are written."""
