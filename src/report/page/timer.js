// The timer's state and its steps. No element of the page here, and no clock but the `now` (ms)
// that is handed in: what time it is never depends on how often we are called.

const GRACE_S = 1; // a finger that late is no longer pull; the signal to stop comes as much earlier
const LEVEL_MOST = 2;

function freshState() {
    return {
        version: 1,
        phase: "ready", // ready, charge, pull, rest, done
        sinceMs: 0, // start of the phase
        pausedMs: 0, // paused so far in this phase
        pausedAtMs: 0, // 0: running
        startedMs: 0, // first press
        endedMs: 0,
        pulls: 0, // finished
        pulledS: 0,
        level: 0,
        later: 0, // rests are longer than planned by this share
        neededS: 0, // length of this rest or charge
        owedS: 0, // rests cut short
        cut: false, // a rest was cut short: the tables do not cover that
        before: null, // of the last pull: {pulledS, level, later}
        lastS: 0, // its length
        verdict: "wait",
        broke: "none",
        stop: "time",
        beyond: false,
        ropeIn: false,
        marks: 0, // signals given in this phase
    };
}

// Takes what a former visit stored; anything odd is dropped whole.
function restoredState(text, nowMs) {
    let stored;
    try {
        stored = JSON.parse(text);
    } catch {
        return null;
    }
    const fresh = freshState();
    if (stored === null || typeof stored !== "object" || stored.version !== fresh.version) {
        return null;
    }
    const state = {};
    for (const key of Object.keys(fresh)) {
        const value = stored[key];
        const sound = key === "before"
            ? value === null || (Number.isFinite(value?.pulledS) && Number.isFinite(value?.level) &&
                Number.isFinite(value?.later))
            : typeof value === typeof fresh[key] &&
                (typeof value !== "number" || (Number.isFinite(value) && value >= 0));
        if (!sound) {
            return null;
        }
        state[key] = value;
    }
    const phases = ["ready", "charge", "pull", "rest", "done"];
    return phases.includes(state.phase) && state.sinceMs <= nowMs + 1000 ? state : null;
}

// Seconds that count in this phase.
function elapsedS(state, nowMs) {
    const until = state.pausedAtMs > 0 ? state.pausedAtMs : nowMs;
    return Math.max(0, until - state.sinceMs - state.pausedMs) / 1000;
}

function enter(state, phase, nowMs) {
    state.phase = phase;
    state.sinceMs = nowMs;
    state.pausedMs = 0;
    state.pausedAtMs = 0;
    state.marks = 0;
}

function remainingS(state, nowMs) {
    return state.neededS - elapsedS(state, nowMs);
}

function startCharge(plan, state, nowMs) {
    state.startedMs = nowMs;
    state.neededS = plan.first_rest_s;
    enter(state, "charge", nowMs);
}

function startPull(state, nowMs) {
    if (state.phase === "rest" || state.phase === "charge") {
        const missing = remainingS(state, nowMs);
        if (missing > GRACE_S) {
            state.owedS += missing;
            state.cut = true;
            state.level = LEVEL_MOST;
        }
    }
    if (state.startedMs === 0) {
        state.startedMs = nowMs;
    }
    enter(state, "pull", nowMs);
}

// Rest after the last pull, from the table, as if it had been lastS long.
function judgePull(plan, state) {
    const { pulledS, level, later } = state.before;
    const planned = pullAt(plan, pulledS);
    const tooLong = state.lastS > plan.pull_s + GRACE_S;
    // within the grace of the planned length it was the planned pull
    const asPlanned = Math.abs(state.lastS - planned.lengthS) <= GRACE_S;
    const lengthS = asPlanned ? planned.lengthS : state.lastS;
    const entry = lookUpRest(plan, pulledS, level, later, lengthS);
    state.pulledS = pulledS + lengthS;
    state.later = entry.later;
    state.level = Math.min(LEVEL_MOST, level + (tooLong ? 1 : 0));
    state.verdict = entry.verdict;
    state.broke = entry.broke;
    state.stop = entry.stop;
    state.beyond = entry.beyond;
    state.neededS = entry.restS + state.owedS;
    if (state.ropeIn) {
        state.neededS = Math.max(state.neededS, plan.rerig_s);
    }
}

function stopPull(plan, state, nowMs) {
    const planned = pullAt(plan, state.pulledS);
    state.lastS = elapsedS(state, nowMs);
    state.before = { pulledS: state.pulledS, level: state.level, later: state.later };
    state.ropeIn = planned.rerig && Math.abs(state.lastS - planned.lengthS) <= GRACE_S;
    state.pulls++;
    judgePull(plan, state);
    enter(state, "rest", nowMs);
}

// The last pull was longer or shorter than the button said.
function correctPull(plan, state, byS) {
    state.lastS = Math.max(1, state.lastS + byS);
    judgePull(plan, state);
}

function setRope(plan, state) {
    state.ropeIn = !state.ropeIn;
    judgePull(plan, state);
}

function finish(state, nowMs) {
    state.endedMs = nowMs;
    enter(state, "done", nowMs);
}

function togglePause(state, nowMs) {
    if (state.pausedAtMs > 0) {
        state.pausedMs += nowMs - state.pausedAtMs;
        state.pausedAtMs = 0;
    } else {
        state.pausedAtMs = nowMs;
    }
}
