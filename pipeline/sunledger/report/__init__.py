"""Pages and figures of what was measured: the month of a station, the network, the next visit."""
