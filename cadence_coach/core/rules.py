"""Every value a decision of the coach rests on, with its ground.

Grounds: a source by name; "computed" (from synthetic riders, `tests/core/riders.py`); "common practice, no source"; or
"engineering choice", said plainly. Times in s, distances in m, cadence in Hz, shares dimensionless, sizes in g.
"""

from __future__ import annotations

CLAIMABLE = 32
"""Onsets and cycles kept, so that a flight can claim its first pumps."""

# ---- looks: when a flight is out of its band ----

SETTLING_PUMPS = 4
"""Nothing in the first pumps of a flight, and they are in no window: cadence is not defined while getting going."""
WINDOW = 5
"""A look is at the mean of the last 5 periods. Computed: at CV 4 % the mean of five scatters by 1.8 %; the mean
misfires half as often as the median."""
WINDOW_IN_SWELL = 8
"""In swell (a 4-10 s wave in travel or speed) periods breathe with the wave: eight pumps span most of one."""
LOOKS_IN_A_ROW = 2
"""Two looks must agree: one look a pump, so this costs one pump and takes out single outliers."""
SPEAK_BEYOND = 0.025
"""A look counts as out when it is past the edge by this share of it. Computed: a rider who wanders to 3 % inside
the edge at CV 4 % would otherwise be called out by chance; a step to 8 % beyond is still spoken within 6 pumps."""
QUARTER_BACK = 0.25
"""Out until a quarter of the way from the edge to the target is regained (hysteresis; engineering choice). Between
the two nothing is said, but the time in band does not count."""
PERIOD_OUTLIER = (0.6, 1.5)
"""A period outside these shares of the running median is a pump missed or split, not a tempo: it enters no window."""
OUTLIERS_ARE_TEMPO = 3
"""... unless three in a row say so."""
STEADY_CV = 0.06
"""Periods of a practised rider: the leaning to the own cadence and the own shove rest on windows no rougher than
this (design rule)."""
OWN_PUMPS = 30
"""Steady pumps in one flight before the rider's own figures count."""

# ---- what is asked for ----

SIZE_SHARE = 0.85
"""Bigger is asked for under this share of the size needed: the size itself is known to 8 %, the mean of five to 4
%. The need is a model's, known to +-30 %: once a rider has flown 30 steady pumps with less, that is what is
needed."""
LIGHTNESS_SHARE = 0.60
"""Too small, and the glide (1 g - lowest) under this share of the push (peak - 1 g): the push is there, the
unweighting is not. For half-sine push and glide the ratio is d/(1-d): 0.60 is a push share of 0.375, the foot of
the 8 % cost band."""
UNEVEN = 0.11
"""Even out: RMSSD/(sqrt 2 x mean) of the last ten periods, well over the steady limit of 6 %. RMSSD, because a
drift is no unevenness; less the largest difference, because one step of tempo is none either. Computed: at CV 4 %
it scatters by 1.1 %, five times less than the distance."""
UNEVEN_UNTRIM = 1.22
"""Makes up for the largest of nine squared differences being left out (normal periods; computed)."""
UNEVEN_WINDOW = 10
SHOVE_OFF = 0.05
"""Shove later or sooner: the shove (peak to push end, share of the period) this far from the rider's own median;
the catch is left out, since a soft landing before the push lengthens it and is no fault. Cued against the own
median alone: the model's optimum is flat."""
SHOVE_SIGMAS = 3.0
"""... and this many standard errors of the rider's own scatter: the peak of a flat push is not sharp."""
SPEED_FIRST_ALOFT = 8.0
SPEED_FIRST_FIXES = 5
"""Speed first: no feasible pumping at this speed; 8 s aloft and five good fixes, since 1 Hz fixes lag up to 2.2 s
(Supej & Cuk 2014, Sensors 14:23490)."""
SPEED_MARGIN = 0.15
"""... and still none at this much more speed [m/s]; over once there is some at this much less. A phone's good fix
is about so good."""
SLOWEST_ALOFT = 2.0
"""Slower than this [m/s] nobody is on the foil, whatever the rhythm says: walking is under 2 m/s (common practice),
and the slowest feasible pumping of the reference set-ups is at 3.2 m/s. A doubtful flight is not coached."""
FIX_AGE = 6.0
"""A fix older than this says nothing about the speed now: five fixes at 1 Hz and one lost."""
FIXES_FOR_BAND = 3
"""Good fixes (median) before the band follows the speed instead of the cruise speed."""

# ---- pace: how often ----

GAP_S = 8.0
GAP_PUMPS = 10
"""Between two corrections: one correction loop of hearing, trying, feeling."""
CEILING = {"full": 4, "basic": 2, "quiet": 0}
"""Corrections a minute at first (Winstein & Schmidt 1990; Aoyagi et al. 2019: less feedback, better kept)."""
CEILING_FLOOR = 1
FADING_S = 60.0
"""The ceiling halves with each minute in band, down to one a minute; it is whole again on relapse."""
RELAPSE_PUMPS = 20
"""Relapse: a spell out of band this long. A short stray keeps the faded ceiling."""
SHARE_OF_LOOKS = 0.5
"""Never more corrections than this share of the off-band looks (Winstein & Schmidt 1990: half, faded)."""
AFTER_GAP_S = 2.0
AFTER_FALL_S = 6.0
"""Silence after samples were missing, and after a fall."""
FALL_WITHIN_S = 1.0
"""A blow belongs to the fall that ended a flight if it came this little before the end of the last pump's period, or
later (engineering choice: the fall is when the next pump was due)."""
PUSHES, HARDER = 5, 1.5
"""A blow this much harder than the median of the last pushes may be a fall: no click into it until a pump follows
(engineering choice; in 216 outings of six makes 172 of 921 clicks after the last pump went, 20 of 10 260 in flight)."""
SOON_WAITS_S = 8.0
"""What keeps a rider from harm waits for a silence no longer than this: gap after gap may not put it off for good
(engineering choice)."""
NO_PUMP = -2.5
"""A bounce with log-odds under this, at once, is no pump to the coach: it counts for no goal, is looked at by nobody
and takes no fall back. Of 20 178 cycles taken for pumps in 240 simulated outings 604 were none; this names 568 of
them and 14 true ones."""
CUE_LASTS_S, WORDED_LASTS_S = 1.5, 3.7
"""One message at a time: the room that a cue takes, and a call or a warning, which words follow."""

# ---- click ----

CLICK_FROM_PUMPS = 6
CLICK_WITHIN = 0.08
"""The click waits for 6 pumps within 8 %: a click against a beat that is not there yet confuses."""
PHASE_STEP = 0.025
"""Most a click is moved a beat, share of the period: the displacement that goes unnoticed (Friberg & Sundberg 1995)."""
TEMPO_STEP = 0.03
TEMPO_BEATS = 4
"""Most the tempo changes in 4 beats: the just noticed change over six intervals is 3 % (Drake & Botte 1993)."""
PHASE_GAIN = 0.5
"""Share of a phase error taken out a beat, before the limit (engineering choice: no overshoot with the tempo
following)."""
ACTS_BEFORE_S = 0.080
ACTS_AFTER_S = 0.020
"""People act 20-80 ms before the click (Repp 2005, from memory): inside this the click stays where it is. A click
that followed would be led again next beat, and tempo would run away."""
LEAD_AHEAD = 0.125
"""A leading click runs at most this share of a period ahead of or behind the rider: it pulls, and never changes
sides."""
LEAD_TEMPO = 0.025
"""... and its tempo differs by at most this from the rider's (a click's phase steers cadence: Buhmann et al. 2018,
PLoS ONE 13:e0208702)."""
CLICK_FADES_S = 30.0
FADE_BEATS = 8
"""After 30 s in band the click fades over 8 beats; it is back whole on relapse."""
FREE_RUN = 2.5
"""Periods without an onset the click bridges: one missed pump drops no click, a stop is not clicked into."""
PUMPS_AFTER_ROUTE = 4
"""No click in the first pumps after the sound took another way out: its delay is not known yet."""
PUSH_SHARE = 0.5
"""Where the tick of a push end falls until a share is known: a sinusoid's."""

# ---- guard ----

TURN_BACK_M = 150.0
TURN_BACK_COLD_M = 100.0
"""Distance from the start to turn back at (common practice, no source: a swim of a few minutes; less in cold water)."""
DOUBTFUL_PLACES = 3
"""So many in a row beyond the limit where their speed may not be believed (engineering choice: one may be far off)."""
TURN_BACK_REARM = 0.8
"""Called anew only after the rider came back inside this share ..."""
TURN_BACK_FURTHER = 1.5
"""... or is this many times as far out as at the last call: once more, and not all the time (engineering choice)."""
TIME_LIMIT_S = 3600.0
TIME_LIMIT_COLD_S = 1500.0
"""60 min; 25 min below 15 C: hypothermia sets in after about 30 min in published boating-safety guidance."""
TIME_LIMIT_AGAIN_S = 600.0
REST_FACTOR = 2.0
REST_LEAST_S = 120.0
REST_LONG_S = 300.0
LONG_FLIGHT_S = 60.0
"""Rest after a flight: twice its length, at least 2 min, 5 min after a minute and more (design rule; common
practice in interval work)."""
LEGS_SHARE = 0.60
LEGS_OF = 3
LEGS_LEAST_PUMPS = 6
"""Legs gone: mean pumps of the last three attempts under 60 % of the mean of the outing's best three, that being six
pumps or more (design rule; below that the counts are chance). From the fourth attempt on; those that were cut are left
out."""
LEGS_RECENT = 3
"""Not said again before this many more attempts."""
STILL_WITHIN_S = 300.0
"""20 s without movement is asked about only this soon after an attempt: a phone lying on the dock is no accident."""
FAULT_AGAIN_S = 60.0
"""The same fault is not said again within this time."""

# ---- word after the flight ----

WORD_AFTER_S = 6.0
WORD_LONGEST_S = 6.0
WORD_EXPIRES_S = 120.0
"""Never calm for so long: the figures are shown, not spoken."""
COAST_AT_MOST_S = 20.0
"""An attempt whose end is not known this long after its flight does not hold the word up, nor a glide that goes on. A
flight that begins so soon after one is the same rider aloft, not one on a rope."""
EARLY = (4, 11)
"""Cadence early: median of pumps 4 to 11 (counted from 1)."""
LATE = 8
LATE_LEAVES = 2
"""Cadence late: median of the last 8 before the final 2, which belong to the end, not to the flight."""
TWO_CADENCES = 18
"""Pumps from which early and late are two figures: their windows then share three pumps of eight at most."""
SHORT_FLIGHT = 8
STARTS_LOOKED_AT = 5
HELD = 5
"""Pumps from which a try counts as a start that held: three make a flight, five carry it past the run-up's own
momentum."""
SPEED_FIXES = 8
STEADINESS_PUMPS = 10
SLOW_FIRST_PUSH_S = 0.8
"""Landing to first push: speed is lost at about 0.6 m/s a second while gliding (steady drag over mass), so 0.8 s
costs half a metre a second of a start that has little to spare."""
TWO_OF_THREE = (2, 3)
SIZE_PUMPS = 6
QUICK_FACTOR = 1.10
QUICK_CADENCE = 114.0 / 60.0
"""Quick: over 1.10 x the own best cadence, or over 114 a minute (1.9 Hz, the upper end of the modelled +3 % cost
band)."""
FADE_LEAST = 0.08
FADE_CVS = 2.0
"""Late below early by max(8 %, 2 CV): medians of eight scatter by under half a CV."""
HARD_START = 1.15
"""First eight pumps this much bigger than the flight's median: started too hard."""
CLEAN = 0.05
EVERY_THIRD = 3
"""The same sentence at most every third flight."""
