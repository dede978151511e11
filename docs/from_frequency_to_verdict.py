# %% [markdown]
# # From a frequency to a verdict
#
# An invented antenna: two slots in a length of WR-90 for 9.8 GHz, small enough to be solved while you watch.
# Open this file as a notebook (editors know the format; a line of `%%` begins a cell), or make a page
# of it with `.venv/bin/python scripts/notebook.py docs/from_frequency_to_verdict.py page.html`.

# %%
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np

import simharness
from simharness.figures import number

# %% [markdown]
# ## Design
#
# The band is 9.75 to 9.85 GHz, the metal a standard guide of brass.

# %%
made = simharness.design("two-slot-9g8", low=9.75, high=9.85, slots=2, guide="WR-90", target=-12)
record = made.record
made.choices

# %%
simharness.check(record).warnings

# %% [markdown]
# ## Estimate
#
# Method of moments, in about a second.

# %%
guess = simharness.estimate(record)
figure, axes = plt.subplots(figsize=(6, 3.5), layout="constrained")
axes.plot(guess.frequency / 1e9, guess.s11.s_db[:, 0, 0])
axes.axvspan(record.band.low_ghz, record.band.high_ghz, alpha=0.2)
_ = axes.set(xlabel="GHz", ylabel="|S11| / dB", title="estimate", ylim=(-40, 0))

# %% [markdown]
# How much does the probe matter? The estimate answers for a few heights.

# %%
heights = record.feed.height_mm + np.array([-0.6, 0.0, 0.6])
figure, axes = plt.subplots(figsize=(6, 3.5), layout="constrained")
for height in heights:
    other = simharness.estimate(simharness.changed(record, {"feed.height_mm": round(height, 2)}), points=101)
    axes.plot(other.frequency / 1e9, other.s11.s_db[:, 0, 0], label=f"{height:.1f} mm")
axes.set(xlabel="GHz", ylabel="|S11| / dB", title="height of the probe", ylim=(-40, 0))
_ = axes.legend()

# %% [markdown]
# ## Full wave
#
# A draft mesh is a first look. The run is stored in the folder `runs`: the next time it is opened, not
# solved. It is judged against the target of the record, with the error bar of its mesh.

# %%
job = simharness.plan(record, "draft")
print(f"{job.cells / 1e6:.2f} million cells, about {job.typical_seconds:.0f} s")
run = simharness.solve(job, runs=Path("runs"))
run

# %%
print(run.verdict.conclusion)
print()
for row in run.verdict.rows:
    print(f"{row.label:36}{number(row.estimate):20}{number(row.full_wave)}")

# %%
run.picture("match")

# %% [markdown]
# ## Pattern
#
# The cut along the guide at the design frequency, relative to its largest value.

# %%
cut = run.far_field.cut("along", record.band.centre_ghz * 1e9)
figure, axes = plt.subplots(figsize=(6, 3.5), layout="constrained")
axes.plot(np.degrees(cut.angle), 10 * np.log10(cut.total / cut.total.max()))
_ = axes.set(xlabel="degrees off broadside", ylabel="dB", ylim=(-40, 0), title="along the guide, full wave")

# %% [markdown]
# ## Verdict
#
# Met, too close to call, or not met; where it is not met, `run.verdict.sentences` says what to change first.
# Then come `simharness.tolerance(record)`, `simharness.sheets(record)` and `simharness.report(run)`.
#
# Cut edges are sharp, flux gives off fumes, and nobody belongs in the beam of an antenna that transmits: your
# local rules decide whether yours may.

# %%
run.verdict.state.value
