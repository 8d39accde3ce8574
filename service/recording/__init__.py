"""From a recording of a cook to the times of its pops, each with its certainty.

Nothing of this is needed to serve: it takes scipy, which comes with the extra `recording`.
"""
