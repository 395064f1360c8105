// Looking up, nothing else: every number here was computed by the planner. The rules are those of
// pr_field_look and pr_field_read in src/planner/fieldtable.c, and a test holds them to each other.

const SAME_S = 0.5;
const MOST_V = 40;

function rowAt(plan, pulledS) {
    let k = plan.rows.length - 1;
    while (k > 0 && plan.rows[k].pulled_s > pulledS + SAME_S) {
        k--;
    }
    return k;
}

function isBetween(plan, k, pulledS) {
    return k + 1 < plan.rows.length && Math.abs(plan.rows[k].pulled_s - pulledS) > SAME_S;
}

function longerS(restS, later) {
    return Math.ceil(restS * (1 + later) - 1e-9);
}

// Rest after a pull of lengthS that began when pulledS had been pulled, `level` pulls before it
// having been too long, and later rests being longer by `later` already:
// {verdict, restS, later, broke, stop}.
function lookUpRest(plan, pulledS, level, later, lengthS) {
    const lengths = plan.lengths_s;
    let l = 0;
    while (l < lengths.length && lengths[l] < lengthS - SAME_S) {
        l++;
    }
    const beyond = l === lengths.length;
    l = Math.min(l, lengths.length - 1);
    const k = rowAt(plan, pulledS);
    const j = Math.min(Math.max(level, 0), plan.rows[k].rest.length - 1);
    // a pull that ended early counts as the worse of the entries around it
    const early = l === plan.planned && l > 0 && lengthS < lengths[l] - SAME_S;
    let [verdict, restS, share, broke, stop] = plan.rows[k].rest[j][l];
    let plannedS = plan.rows[k].rest[0][plan.planned][1];
    const worsen = (entry) => {
        verdict = entry[0] === "stop" ? "stop" : verdict;
        restS = Math.max(restS, entry[1]);
        share = Math.max(share, entry[2]);
    };
    if (early) {
        worsen(plan.rows[k].rest[j][l - 1]);
    }
    if (isBetween(plan, k, pulledS)) {
        const next = plan.rows[k + 1].rest[j][l];
        worsen(next);
        if (early) {
            worsen(plan.rows[k + 1].rest[j][l - 1]);
        }
        broke = broke === "none" ? next[3] : broke;
        stop = stop === "time" ? next[4] : stop;
        plannedS = Math.max(plannedS, plan.rows[k + 1].rest[0][plan.planned][1]);
    }
    share = Math.max(share, later);
    if (l >= plan.planned) {
        restS = Math.max(restS, longerS(plannedS, share));
    }
    return { verdict: beyond ? "stop" : verdict, restS, later: share, broke, stop, beyond };
}

// What a reading means: {verdict, reason, waitS}.
function readMeter(plan, moment, pulledS, volts) {
    const bands = plan.meter[moment] || [];
    if (!(volts >= 0 && volts <= MOST_V) || bands.length === 0) {
        return { verdict: "stop", reason: "no_reading", waitS: null };
    }
    let i = bands.length - 1;
    while (i > 0 && volts < bands[i][0]) {
        i--;
    }
    let [, verdict, reason, waitS] = bands[i];
    if (moment === "pulling" && reason === "as_planned") {
        const k = rowAt(plan, pulledS);
        let low = plan.rows[k].low_V;
        if (isBetween(plan, k, pulledS)) {
            low = Math.min(low, plan.rows[k + 1].low_V);
        }
        if (volts < low) {
            verdict = "wait";
            reason = "below_plan";
        }
    }
    return { verdict, reason, waitS };
}

// The pull that begins at this position: {index, lengthS, rerig}; index past the end when the plan
// has no such pull any more.
function pullAt(plan, pulledS) {
    let sum = 0;
    for (let i = 0; i < plan.pulls.length; i++) {
        if (Math.abs(sum - pulledS) <= SAME_S) {
            return { index: i, lengthS: plan.pulls[i][0], rerig: plan.pulls[i][2] > 0 };
        }
        if (sum > pulledS) {
            return { index: i - 1, lengthS: plan.pull_s, rerig: false };
        }
        sum += plan.pulls[i][0];
    }
    return { index: plan.pulls.length, lengthS: plan.pull_s, rerig: false };
}

function durationText(seconds) {
    const s = Math.max(0, Math.round(seconds));
    const h = Math.floor(s / 3600);
    const m = Math.floor((s % 3600) / 60);
    const parts = [];
    if (h > 0) {
        parts.push(h + " h");
    }
    if (m > 0) {
        parts.push(m + " min");
    }
    if (s % 60 > 0 || parts.length === 0) {
        parts.push((s % 60) + " s");
    }
    return parts.join(" ");
}

function clockText(seconds) {
    const s = Math.max(0, Math.round(seconds));
    const two = (n) => String(n).padStart(2, "0");
    const h = Math.floor(s / 3600);
    const m = Math.floor((s % 3600) / 60);
    return (h > 0 ? h + ":" + two(m) : m) + ":" + two(s % 60);
}
