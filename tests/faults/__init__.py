"""
Fault models: what goes wrong at a radiation station, one pure function a fault.

Written before any detector, and never imported by one. The functions act where the fault acts:

- `pointing`, `domes`, `levelling`: on the light that reaches the sensors (`readings.Light`);
- `signals`: on the signal of one channel, in volts or already in W m-2;
- `clocks`: on time;
- `files`: on the lines of a logger's table.

Values may be plain arrays of samples or `readings.Statistics` of an interval (mean, minimum,
maximum, deviation): the same function serves the generator, which works on samples, and a score
that injects faults into archived minutes. Nothing outside `[start, end)` is ever changed.
"""
