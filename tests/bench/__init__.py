"""The benchmark: our follower and its peers on sounds whose pitch is known, in one table."""
