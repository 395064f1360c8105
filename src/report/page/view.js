// The page around the timer: what is shown, pressed, heard, stored.

const planElement = document.getElementById("plan");
const byId = (id) => document.getElementById(id);

function storage(action) {
    try {
        return action(window.localStorage);
    } catch {
        return null; // refused, full or not there: the timer works without
    }
}

// ---- light and dark

function startTheme() {
    const button = byId("theme");
    const names = ["auto", "light", "dark"];
    let at = Math.max(0, names.indexOf(storage((s) => s.getItem("pullrest:theme"))));
    const show = () => {
        document.documentElement.dataset.theme = names[at];
        button.textContent = "Screen: " + names[at];
    };
    button.hidden = false;
    button.addEventListener("click", () => {
        at = (at + 1) % names.length;
        storage((s) => s.setItem("pullrest:theme", names[at]));
        show();
    });
    show();
}

// ---- signals: sound, vibration, screen

let audio = null;

function wakeAudio() {
    try {
        audio = audio || new AudioContext();
        if (audio.state === "suspended") {
            audio.resume().catch(() => {});
        }
    } catch {
        audio = null;
    }
}

// Tones of 0.18 s, one after the other.
function signal(pattern) {
    if (!byId("sound").checked) {
        return;
    }
    if (navigator.vibrate) {
        try {
            navigator.vibrate(pattern.flatMap((tone) => [tone.s * 1000, 80]));
        } catch {
            // not allowed here
        }
    }
    if (audio === null || audio.state !== "running") {
        return;
    }
    let at = audio.currentTime + 0.02;
    for (const tone of pattern) {
        const source = audio.createOscillator();
        const volume = audio.createGain();
        source.type = "square";
        source.frequency.value = tone.hz;
        volume.gain.setValueAtTime(0.4, at);
        volume.gain.exponentialRampToValueAtTime(0.01, at + tone.s);
        source.connect(volume).connect(audio.destination);
        source.start(at);
        source.stop(at + tone.s);
        at += tone.s + 0.08;
    }
}

const TICK = [{ hz: 880, s: 0.12 }];
const STOP_PULL = [{ hz: 1320, s: 0.35 }, { hz: 1320, s: 0.35 }, { hz: 1320, s: 0.7 }];
const REST_OVER = [{ hz: 660, s: 0.2 }, { hz: 880, s: 0.2 }, { hz: 1100, s: 0.4 }];

let wakeLock = null;
let wakeNote = "";

async function keepScreen() {
    if (document.visibilityState !== "visible" || wakeLock !== null) {
        return;
    }
    if (!navigator.wakeLock) {
        wakeNote = "This browser does not keep the screen on: set the phone's own time-out long.";
        return;
    }
    try {
        wakeLock = await navigator.wakeLock.request("screen");
        wakeNote = "The screen stays on while the timer runs.";
        wakeLock.addEventListener("release", () => {
            wakeLock = null;
        });
    } catch {
        wakeNote = "The screen may go dark: set the phone's own time-out long.";
    }
    show();
}

function releaseScreen() {
    if (wakeLock !== null) {
        wakeLock.release().catch(() => {});
    }
}

// ---- the timer on the page

let plan = null;
let state = null;
let undoState = null;
let riskyUntilMs = 0;
let resetUntilMs = 0;
let storeKey = "";
let stored = true;
let shownLook = "";
let markedRow = -2;

function say(text) {
    byId("said").textContent = text;
}

function keep() {
    stored = storage((s) => {
        s.setItem(storeKey, JSON.stringify(state));
        return true;
    }) === true;
}

function step(change) {
    undoState = JSON.stringify(state);
    change(Date.now());
    riskyUntilMs = 0;
    resetUntilMs = 0;
    keep();
    wakeAudio();
    if (state.phase === "ready" || state.phase === "done") {
        releaseScreen();
    } else {
        keepScreen();
    }
    show();
}

function pullName(number) {
    return "pull " + number;
}

function readyForPull(nowMs) {
    return state.phase === "ready" ? !(plan.first_rest_s > 0)
        : (state.phase === "rest" || state.phase === "charge") && remainingS(state, nowMs) <= 0;
}

function pressMain() {
    const nowMs = Date.now();
    if (state.pausedAtMs > 0) {
        step((now) => togglePause(state, now));
    } else if (state.phase === "ready" && plan.first_rest_s > 0) {
        step((now) => startCharge(plan, state, now));
        say("Engine on. Charge for " + durationText(state.neededS) + ".");
    } else if (state.phase === "pull") {
        step((now) => stopPull(plan, state, now));
        say("Pull over after " + durationText(state.lastS) + ". " + restSentence());
    } else if (readyForPull(nowMs)) {
        step((now) => startPull(state, now));
        say("Pull " + (state.pulls + 1) + " for " + durationText(plannedNow().lengthS) + ".");
    } else if (state.phase === "done") {
        askReset();
    } else {
        say("Not yet: rest for " + durationText(remainingS(state, nowMs)) + ".");
    }
}

// A press that skips a rest or throws the state away takes a second press within five seconds.
const CONFIRM_MS = 5000;

function askAnyway() {
    if (Date.now() < riskyUntilMs) {
        step((now) => startPull(state, now));
        say("Pulling before the rest is over.");
        return;
    }
    riskyUntilMs = Date.now() + CONFIRM_MS;
    say("Press again to pull before the rest is over. The tables do not cover that.");
    show();
}

function askReset() {
    if (Date.now() < resetUntilMs) {
        step(() => {
            state = freshState();
        });
        say("The plan starts over.");
        return;
    }
    resetUntilMs = Date.now() + CONFIRM_MS;
    say("Press again to start over.");
    show();
}

function takeBack() {
    const former = undoState;
    step(() => {
        state = JSON.parse(former);
    });
    undoState = null;
    say("Taken back.");
    show();
}

function plannedNow() {
    return pullAt(plan, state.pulledS);
}

function restSentence() {
    const rest = "Rest " + durationText(state.neededS) + ", engine on.";
    const planned = state.before ? pullAt(plan, state.before.pulledS).lengthS : plan.pull_s;
    const differs = Math.abs(state.lastS - planned) > GRACE_S;
    return differs ? "Planned were " + durationText(planned) + ". " + rest : rest;
}

// After a pull that was cut short, more rest than after one as planned: nobody expects that.
function asksMoreThanPlanned() {
    if (state.before === null || state.verdict === "stop") {
        return false;
    }
    const { pulledS } = state.before;
    const lengthS = pullAt(plan, pulledS).lengthS;
    const asPlanned = lookUpRest(plan, pulledS, 0, 0, lengthS);
    return state.lastS < lengthS - GRACE_S && !state.ropeIn &&
        state.neededS - state.owedS > asPlanned.restS;
}

function alertText(nowMs) {
    const words = plan.words;
    if (state.phase === "pull") {
        const over = elapsedS(state, nowMs) - plannedNow().lengthS;
        return over > GRACE_S ? "Longer than planned: stop now. The rest grows with it." : "";
    }
    if (state.phase !== "rest") {
        return "";
    }
    const lines = [];
    if (state.stop !== "time") {
        lines.push("A pull of that length should have ended by itself: " + words.stop[state.stop] +
            ". Stop and plan again.");
    } else if (state.beyond) {
        lines.push("More than the tables hold. Rest, let the winch cool, then plan again.");
    } else if (state.verdict === "stop") {
        lines.push("No rest in the tables makes up for that. Rest, then plan again.");
    }
    if (asksMoreThanPlanned()) {
        lines.push(words.short_pull);
    }
    if (state.broke !== "none") {
        lines.push("That pull went past a limit: " + words.limit[state.broke] + ".");
    }
    if (state.before && state.before.level >= LEVEL_MOST &&
        state.lastS > plan.pull_s + GRACE_S) {
        lines.push("Too long again and again: the ground is worse than was assumed. Plan again.");
    }
    if (state.later > 0) {
        lines.push("From now on every rest is " + Math.round(100 * state.later) +
            " % longer than planned.");
    }
    if (state.cut) {
        lines.push("A rest was cut short, which the tables do not cover: what was missing is " +
            "added here. Plan again if you can.");
    }
    if (state.pulls > plan.pulls.length + Math.max(2, Math.ceil(plan.pulls.length / 4))) {
        lines.push("Far more pulls than planned: the ground is worse than was assumed. Plan " +
            "again.");
    }
    return lines.join(" ");
}

function setText(id, text) {
    const element = byId(id);
    if (element.textContent !== text) {
        element.textContent = text;
    }
}

function setHidden(id, hidden) {
    if (byId(id).hidden !== hidden) {
        byId(id).hidden = hidden;
    }
}

function markRow(at) {
    if (at === markedRow) {
        return;
    }
    for (const row of document.querySelectorAll("tr[data-pull]")) {
        row.toggleAttribute("data-now", Number(row.dataset.pull) === at);
    }
    markedRow = at;
}

// What stands above the clock, on it, below it, and on the button.
function texts(nowMs) {
    const number = state.pulls + 1;
    const planned = plannedNow();
    const paused = state.pausedAtMs > 0;
    const untilRope = planned.rerig ? ", until the rope is in" : "";
    const pullFor = "Pull " + number + ": " + durationText(planned.lengthS) + untilRope;
    switch (state.phase) {
    case "charge":
    case "rest": {
        const left = remainingS(state, nowMs);
        const name = state.phase === "rest" ? "Rest after " + pullName(state.pulls)
            : "Charge first, engine on";
        const over = left <= 0;
        return {
            phase: paused ? name + ": paused" : over ? "Ready" : name,
            clock: over && !paused ? "+" + clockText(Math.floor(-left))
                : clockText(Math.ceil(left)),
            next: (state.phase === "rest" ? "It took " + durationText(state.lastS) + ". " +
                restSentence() + " " : "") + "Then " + pullFor.toLowerCase() + ".",
            main: paused ? "Go on with the rest" : over ? "Start pull " + number : "Rest: " +
                clockText(Math.ceil(left)),
            look: paused ? "paused" : over ? "go" : "rest",
        };
    }
    case "pull": {
        const gone = elapsedS(state, nowMs);
        const left = planned.lengthS - gone;
        return {
            phase: paused ? pullFor + ": paused" : left > 0 ? pullFor : "Stop: pull is over",
            clock: left > 0 ? clockText(Math.ceil(left)) : "+" + clockText(Math.floor(-left)),
            next: "Engine at the planned speed. Nobody near the rope.",
            main: paused ? "Go on pulling" : "Stop pull " + number + " (" +
                (left > 0 ? clockText(Math.ceil(left)) : "+" + clockText(Math.floor(-left))) + ")",
            look: paused ? "paused" : left > 0 ? "pull" : "over",
        };
    }
    case "done":
        return {
            phase: "Out",
            clock: clockText((state.endedMs - state.startedMs) / 1000),
            next: state.pulls + (state.pulls === 1 ? " pull." : " pulls.") +
                " Let the engine run: the battery is not full yet.",
            main: Date.now() < resetUntilMs ? "Press again to start over" : "Start over",
            look: "done",
        };
    default:
        return {
            phase: plan.first_rest_s > 0 ? "Charge first: " + durationText(plan.first_rest_s)
                : pullFor,
            clock: clockText(plan.first_rest_s > 0 ? plan.first_rest_s : planned.lengthS),
            next: "Press when the rope is tight and everybody is clear.",
            main: plan.first_rest_s > 0 ? "Start charging, engine on" : "Start pull 1",
            look: "go",
        };
    }
}

function show() {
    const nowMs = Date.now();
    const shown = texts(nowMs);
    const waiting = (state.phase === "rest" || state.phase === "charge") &&
        state.pausedAtMs === 0 && remainingS(state, nowMs) > 0;
    setText("phase", shown.phase);
    setText("clock", shown.clock);
    byId("clock").toggleAttribute("data-long", shown.clock.length > 5);
    setText("next", shown.next);
    setText("main", shown.main);
    byId("timer").dataset.phase = shown.look;
    byId("bar").dataset.phase = shown.look;
    byId("main").setAttribute("aria-disabled", waiting ? "true" : "false");
    const alert = alertText(nowMs);
    setText("alert", alert);
    setHidden("alert", alert === "");
    const resting = state.phase === "rest";
    setHidden("correct", !resting);
    setHidden("rope", !resting);
    setHidden("out", !resting && state.phase !== "pull");
    setHidden("pause", !["charge", "rest", "pull"].includes(state.phase));
    setHidden("undo", undoState === null);
    setHidden("anyway", !waiting);
    setHidden("reset", state.phase === "ready" || state.phase === "done");
    setText("rope", state.ropeIn ? "Rope need not be set out" : "Rope is in: set it out");
    setText("pause", state.pausedAtMs > 0 ? "Go on" : resting || state.phase === "charge"
        ? "Pause, engine off" : "Pause");
    setText("anyway", nowMs < riskyUntilMs ? "Press again to pull now"
        : "Pull before the rest is over");
    setText("reset", nowMs < resetUntilMs ? "Press again to start over" : "Start the plan over");
    byId("progress").max = plan.pulls.length;
    byId("progress").value = Math.min(state.pulls, plan.pulls.length);
    const at = Math.min(plannedNow().index, plan.pulls.length - 1);
    setText("tally", state.pulls + " of " + plan.pulls.length + " pulls done. After pull " +
        (at + 1) + " of the plan the way is " + plan.pulls[at][3] + ".");
    setText("notes", [wakeNote, stored ? "" : "This browser stores nothing: a reload loses the " +
        "timer's place."].filter((t) => t !== "").join(" "));
    markRow(state.phase === "done" ? -1 : at);
    if (shown.look !== shownLook) {
        shownLook = shown.look;
        followTimer();
        showMeter();
    }
}

// ---- signals at their time, once each, however late we are called

function marksDue(nowMs) {
    if (state.pausedAtMs > 0) {
        return 0;
    }
    const left = state.phase === "pull" ? plannedNow().lengthS - elapsedS(state, nowMs)
        : state.phase === "rest" || state.phase === "charge" ? remainingS(state, nowMs) : Infinity;
    const pulling = state.phase === "pull";
    return left <= (pulling ? GRACE_S : 0) ? 2 : left <= (pulling ? 5 : 10) ? 1 : 0;
}

function tick() {
    const due = marksDue(Date.now());
    if (due > state.marks) {
        state.marks = due;
        keep();
        const pulling = state.phase === "pull";
        signal(due === 1 ? TICK : pulling ? STOP_PULL : REST_OVER);
        say(due === 1 ? (pulling ? "Five seconds." : "Ten seconds of rest left.")
            : pulling ? "Stop the pull now." : "Rest is over. Start pull " + (state.pulls + 1) +
                " when all is clear.");
    } else if (due < state.marks && due === 0) {
        state.marks = 0; // the rest was lengthened
    }
    show();
}

// ---- voltmeter

let momentChosen = false;

function followTimer() {
    if (momentChosen || document.activeElement === byId("moment")) {
        return;
    }
    const nowMs = Date.now();
    const moment = state.phase === "ready" ? "off" : state.phase === "pull" ? "pulling"
        : readyForPull(nowMs) ? "rested" : "resting";
    if (byId("moment").querySelector("option[value=" + moment + "]") !== null) {
        byId("moment").value = moment;
    }
}

function showMeter() {
    const text = byId("volts").value.trim().replace(",", ".");
    const box = byId("verdict");
    if (text === "") {
        box.dataset.verdict = "";
        setText("word", "Type a number");
        setText("why", "It says pull, wait or stop.");
        return;
    }
    const volts = /^\d+(\.\d*)?$|^\.\d+$/.test(text) ? Number(text) : NaN;
    const moment = byId("moment").value;
    const band = readMeter(plan, moment, state.pulledS, volts);
    const reason = band.reason === "as_planned" ? plan.words.as_planned[moment]
        : plan.words.reason[band.reason];
    box.dataset.verdict = band.verdict;
    box.dataset.reason = band.reason;
    setText("word", { pull: "Pull", wait: "Wait", stop: "Stop" }[band.verdict] +
        (band.reason === "charge_first" ? " " + durationText(band.waitS) : ""));
    setText("why", reason);
}

function startMeter() {
    byId("volts").addEventListener("input", showMeter);
    byId("moment").addEventListener("change", () => {
        momentChosen = true;
        showMeter();
    });
}

// ---- beginning

function startTimer() {
    const press = (id, action) => byId(id).addEventListener("click", action);
    press("main", () => {
        pressMain();
        byId("timer").scrollIntoView({ block: "nearest" });
    });
    press("less", () => step(() => correctPull(plan, state, -5)));
    press("more", () => step(() => correctPull(plan, state, 5)));
    press("rope", () => step(() => setRope(plan, state)));
    press("pause", () => step((now) => togglePause(state, now)));
    press("anyway", askAnyway);
    press("reset", askReset);
    press("undo", takeBack);
    press("out", () => {
        step((now) => {
            if (state.phase === "pull") {
                stopPull(plan, state, now);
            }
            finish(state, now);
        });
        say("Out. The plan is done.");
    });
    for (const id of ["less", "more", "rope"]) {
        byId(id).addEventListener("click", () => say(restSentence()));
    }
    document.addEventListener("visibilitychange", () => {
        if (document.visibilityState === "visible") {
            tick();
            if (["charge", "pull", "rest"].includes(state.phase)) {
                keepScreen();
            }
        }
    });
    byId("bar").hidden = false;
    document.body.classList.add("live");
    setInterval(tick, 200);
}

function start() {
    startTheme();
    if (planElement === null) {
        return; // a no: nothing to time
    }
    plan = JSON.parse(planElement.textContent);
    storeKey = "pullrest:plan:" + planElement.dataset.hash;
    const text = storage((s) => s.getItem(storeKey));
    state = (text && restoredState(text, Date.now())) || freshState();
    const running = ["charge", "pull", "rest"].includes(state.phase);
    startMeter();
    startTimer();
    stored = storage((s) => {
        s.setItem("pullrest:try", "1");
        s.removeItem("pullrest:try");
        return true;
    }) === true;
    if (running) {
        say("The timer goes on where it was.");
        keepScreen();
    }
    tick();
}

start();
