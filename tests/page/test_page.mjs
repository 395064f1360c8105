// The page in a real browser. Expected numbers come from the program (`pullrest page --json`).
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, statSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { DESK, FOLDER, PHONE, cleanUp, launch, open, readJson } from "./browser.mjs";

const NAMES = ["demo", "short", "hostile", "no-go"];
const axe = readFileSync(join(FOLDER, "node_modules/axe-core/axe.min.js"), "utf8");
const lookUps = readFileSync(join(process.env.PR_SOURCE_DIR, "src/report/page/tables.js"), "utf8");
const { lookUpRest, readMeter, durationText } =
    new Function(lookUps + "; return { lookUpRest, readMeter, durationText };")();

let browser;
before(async () => {
    browser = await launch();
});
after(async () => {
    await browser.close();
    cleanUp();
});

const forward = (page, seconds) => page.clock.fastForward(Math.round(seconds * 1000));
const tables = () => readJson("short").tables;

// Expected rest in words, from the planner's own answers.
function restOf(samples, pulledS, level, lengthS) {
    const found = samples.rests.find((s) => s.pulled_s === pulledS && s.level === level &&
        s.length_s === lengthS);
    assert.ok(found, `no sample at ${pulledS} s, level ${level}, length ${lengthS} s`);
    return found;
}

test("files are small, alone, and allow nothing to be loaded", () => {
    for (const name of NAMES) {
        const path = join(FOLDER, name + ".html");
        assert.ok(statSync(path).size < 1e6, name);
        const html = readFileSync(path, "utf8");
        const policy = /content="([^"]*)"/.exec(html)[1].replace(/sha256-[^']+/g, "#");
        assert.equal(policy, "default-src 'none'; style-src '#'; script-src '#'; " +
            "base-uri 'none'; form-action 'none'");
        assert.ok(!/https?:|url\(|@import/.test(html), name);
    }
});

test("the script's look-ups answer as the planner does", () => {
    for (const name of ["short", "demo"]) {
        const { tables: plan, samples } = readJson(name);
        assert.ok(samples.meter.length > 700 && samples.rests.length > 300);
        for (const s of samples.meter) {
            const got = readMeter(plan, s.moment, s.pulled_s, s.V);
            assert.deepEqual([got.verdict, got.reason, got.waitS],
                [s.verdict, s.reason, s.wait_s], JSON.stringify(s));
        }
        for (const s of samples.rests) {
            const got = lookUpRest(plan, s.pulled_s, s.level, s.later_before_frac, s.length_s);
            assert.deepEqual([got.verdict, got.restS, got.later, got.broke, got.stop],
                [s.verdict, s.rest_s, s.later_frac, s.broke, s.stop], JSON.stringify(s));
        }
    }
});

test("the timer goes through a plan to its end", async () => {
    const plan = tables();
    assert.ok(plan.first_rest_s > 0, "the short plan charges first");
    const spy = () => {
        window.heard = { tones: 0, vibrations: 0 };
        Navigator.prototype.vibrate = () => {
            window.heard.vibrations++;
            return true;
        };
        const create = AudioContext.prototype.createOscillator;
        AudioContext.prototype.createOscillator = function () {
            window.heard.tones++;
            return create.call(this);
        };
    };
    const { page, text, shoot, close } = await open(browser, "short", { before: spy });
    assert.equal(await text("main"), "Start charging, engine on");
    await page.click("#main");
    assert.match(await text("said"), /Charge for/);
    await forward(page, plan.first_rest_s - 5);
    assert.match(await text("said"), /Ten seconds of rest left/);
    await forward(page, 5.5);
    assert.match(await text("said"), /Rest is over/);
    for (let i = 0; i < plan.pulls.length; i++) {
        assert.equal(await text("main"), `Start pull ${i + 1}`);
        await page.click("#main");
        assert.match(await text("phase"), new RegExp(`^Pull ${i + 1}: `));
        await forward(page, plan.pulls[i][0] + 0.1);
        assert.match(await text("said"), /Stop the pull now/);
        assert.equal(await page.getAttribute("#timer", "data-phase"), "over");
        await page.click("#main");
        assert.match(await text("tally"), new RegExp(`^${i + 1} of ${plan.pulls.length} pulls`));
        if (i + 1 < plan.pulls.length) {
            assert.match(await text("next"), new RegExp("Rest " + durationText(plan.pulls[i][1])));
            await forward(page, plan.pulls[i][1] - 1);
            assert.equal(await page.getAttribute("#main", "aria-disabled"), "true");
            await forward(page, 1.5);
        }
    }
    await page.click("#out");
    assert.equal(await text("phase"), "Out");
    await shoot("short-out");
    const heard = await page.evaluate(() => window.heard);
    assert.ok(heard.tones > 3 * plan.pulls.length, "tones " + heard.tones);
    assert.ok(heard.vibrations >= 3 * plan.pulls.length, "vibrations " + heard.vibrations);
    await page.click("#main");
    assert.equal(await text("main"), "Press again to start over");
    await page.click("#main");
    assert.equal(await text("main"), "Start charging, engine on");
    await close();
});

test("pulls that took longer or shorter get the planner's rest", async () => {
    const { tables: plan, samples } = readJson("demo");
    const { page, text, shoot, close } = await open(browser, "demo");
    const pullFor = async (seconds) => {
        await page.click("#main");
        await forward(page, seconds);
        await page.click("#main");
    };
    const L = Math.round(1.6 * plan.pull_s), short = Math.round(0.4 * plan.pull_s);
    const over = restOf(samples, 0, 0, L);
    assert.ok(over.rest_s > plan.pulls[0][1], "a longer pull needs a longer rest");
    await pullFor(L);
    assert.match(await text("next"), new RegExp(`^It took ${durationText(L)}. Planned were ` +
        `${durationText(plan.pull_s)}. Rest ${durationText(over.rest_s)},`));
    await shoot("demo-rest");
    // corrections read the table anew, and can be taken back
    await page.click("#less");
    const less = lookUpRest(plan, 0, 0, 0, L - 5);
    assert.match(await text("next"), new RegExp(`Rest ${durationText(less.restS)},`));
    await page.click("#more");
    assert.match(await text("next"), new RegExp(`Rest ${durationText(over.rest_s)},`));
    await page.click("#rope");
    assert.match(await text("next"), new RegExp(`Rest ${durationText(plan.rerig_s)},`));
    await page.click("#undo");
    assert.match(await text("next"), new RegExp(`Rest ${durationText(over.rest_s)},`));
    // the next one begins further on, with one long pull behind it
    await forward(page, over.rest_s + 1);
    await pullFor(short);
    const next = lookUpRest(plan, L, 1, over.later_frac, short);
    assert.match(await text("next"), new RegExp(`Rest ${durationText(next.restS)},`));
    await forward(page, next.restS + 1);
    // longer than the tables hold
    await pullFor(3 * plan.pull_s);
    assert.match(await text("alert"), /More than the tables hold/);
    // pulling on before the rest is over takes two presses, and is said
    await page.click("#anyway");
    assert.equal(await text("anyway"), "Press again to pull now");
    await page.click("#anyway");
    await forward(page, 10);
    await page.click("#main");
    assert.match(await text("alert"), /A rest was cut short/);
    await close();
});

test("a pull cut short that asks for more rest says why", async () => {
    const plan = readJson("demo").tables;
    const { page, text, close } = await open(browser, "demo");
    const pullFor = async (seconds) => {
        await page.click("#main");
        await forward(page, seconds);
        await page.click("#main");
    };
    await pullFor(plan.pull_s);
    assert.equal(await text("alert"), "", "as planned: nothing to say");
    await forward(page, plan.pulls[0][1] + 1);
    await pullFor(20);
    const entry = lookUpRest(plan, plan.pull_s, 0, 0, 20);
    assert.ok(entry.restS > plan.pulls[1][1], "the case that this test is about");
    assert.match(await text("alert"), /A pull cut short can ask for more rest: the later pulls/);
    await close();
});

test("a reload in the middle goes on, and a pause stands still", async () => {
    const { page, text, close } = await open(browser, "demo");
    const plan = readJson("demo").tables;
    await page.click("#main");
    await forward(page, 12);
    await page.reload();
    assert.match(await text("main"), /^Stop pull 1 \(0:1[78]\)$/);
    assert.match(await text("said"), /goes on where it was/);
    await forward(page, plan.pull_s - 12);
    await page.click("#main");
    await forward(page, 60);
    await page.click("#pause");
    const paused = await text("clock");
    await forward(page, 300);
    assert.equal(await text("clock"), paused);
    await page.reload();
    assert.equal(await text("clock"), paused);
    await page.click("#main");
    await forward(page, 30);
    assert.notEqual(await text("clock"), paused);
    // what another version or a hand left behind is dropped
    await page.evaluate(() => {
        const key = Object.keys(localStorage).find((k) => k.startsWith("pullrest:plan:"));
        localStorage.setItem(key, '{"version":1,"phase":"rest","before":7}');
    });
    await page.reload();
    assert.equal(await text("main"), "Start pull 1");
    await close();
});

test("without storage and without a wake lock the timer works and says so", async () => {
    const refuse = () => {
        Object.defineProperty(window, "localStorage", {
            get() {
                throw new DOMException("refused", "SecurityError");
            },
        });
        Object.defineProperty(navigator, "wakeLock", { value: undefined });
    };
    const { page, text, close } = await open(browser, "demo", { before: refuse });
    await page.click("#main");
    await forward(page, 3);
    assert.match(await text("main"), /^Stop pull 1/);
    assert.match(await text("notes"), /stores nothing/);
    assert.match(await text("notes"), /does not keep the screen on/);
    await close();
});

test("the voltmeter box answers as the planner does", async () => {
    const { tables: plan, samples } = readJson("demo");
    const { page, text, shoot, close } = await open(browser, "demo");
    const words = { pull: "Pull", wait: "Wait", stop: "Stop" };
    const typed = samples.meter.find((s) => s.moment === "off" && s.V === 12.6);
    await page.locator("#volts").pressSequentially("12,6");
    assert.equal(await text("word"), words[typed.verdict]);
    // resting and rested differ by the clock: the choice of the user counts
    const got = await page.evaluate((list) => list.map((s) => {
        const set = (id, value, event) => {
            document.getElementById(id).value = value;
            document.getElementById(id).dispatchEvent(new Event(event, { bubbles: true }));
        };
        set("moment", s.moment, "change");
        set("volts", s.V.toFixed(2), "input");
        return [document.getElementById("word").textContent,
            document.getElementById("why").textContent];
    }), samples.meter);
    samples.meter.forEach((s, i) => {
        const wait = s.reason === "charge_first" ? " " + durationText(s.wait_s) : "";
        assert.equal(got[i][0], words[s.verdict] + wait, JSON.stringify(s));
        assert.equal(got[i][1], s.reason === "as_planned" ? plan.words.as_planned[s.moment]
            : plan.words.reason[s.reason]);
    });
    for (const nonsense of ["twelve", "1e9", "-3", "12.6.1", "99"]) {
        await page.fill("#volts", nonsense);
        assert.equal(await text("word"), "Stop", nonsense);
        assert.equal(await text("why"), plan.words.reason.no_reading);
    }
    await page.fill("#volts", "12.9");
    await page.locator("#meter").scrollIntoViewIfNeeded();
    await shoot("demo-meter");
    await close();
});

test("no element asks for anything, or brings a script or style of its own", async () => {
    for (const name of NAMES) {
        const { page, close } = await open(browser, name, { clock: false });
        const found = await page.evaluate(() => [...document.querySelectorAll("*")].flatMap((e) =>
            [...e.attributes].map((a) => a.name)
                .filter((a) => /^(src.*|href|xlink.*|action|style|data|on.*)$/.test(a))
                .map((a) => e.tagName + " " + a)));
        assert.deepEqual(found, [], name);
        await close();
    }
});

test("hostile titles are text", async () => {
    const { page, text, close } = await open(browser, "hostile");
    assert.equal(await page.title(), "</title></script><script>document.title='owned'</script>" +
        "<b onclick='x' \"q\" & <!-- \uFFFD ]]> \u00E9");
    assert.equal(await page.locator("img, b").count(), 0);
    assert.equal(await page.locator("script").count(), 2);
    assert.match(await page.locator("main").textContent(), /<img src=x onerror=/);
    await page.click("#main");
    assert.match(await text("main"), /^Stop pull 1/);
    await close();
});

test("a no has no timer and says what would help", async () => {
    const { page, shoot, close } = await open(browser, "no-go");
    assert.equal(await page.locator("h1").textContent(), "NO-GO");
    assert.equal(await page.locator("#timer, #meter, #main").count(), 0);
    await shoot("no-go");
    await close();
});

test("nothing scrolls sideways, at any width", async () => {
    for (const name of NAMES) {
        const { page, close } = await open(browser, name, { clock: false });
        for (const width of [320, PHONE.width, 768, DESK.width]) {
            await page.setViewportSize({ width, height: 740 });
            await page.evaluate(() => document.querySelectorAll("details").forEach((d) => {
                d.open = true;
            }));
            const wide = await page.evaluate(() => document.documentElement.scrollWidth);
            assert.ok(wide <= width, `${name}: ${wide} px at ${width} px`);
        }
        await close();
    }
});

// In the whole page, or in what the timer changes.
async function violations(page, all) {
    await page.evaluate(axe);
    const result = await page.evaluate((whole) => {
        const where = whole ? document : { include: [["#timer"], ["#bar"], ["#meter"]] };
        const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
        return window.axe.run(where, { runOnly: tags, resultTypes: ["violations"], preload: false });
    }, all);
    return result.violations.map((v) => v.id + ": " + v.nodes.map((n) => n.target).join(", "));
}

for (const colorScheme of ["light", "dark"]) {
    test("accessibility rules hold, " + colorScheme, async () => {
        const { page, shoot, close } = await open(browser, "demo", {
            colorScheme, clock: "running" });
        const look = async (what) => {
            assert.deepEqual(await violations(page, what === "ready"), [], what);
            await page.evaluate(() => document.getElementById("timer").scrollIntoView());
            await shoot(`demo-${colorScheme}-${what}`);
        };
        await page.evaluate(() => document.querySelectorAll("details").forEach((d) => {
            d.open = true;
        }));
        await shoot(`demo-${colorScheme}-top`);
        await page.fill("#volts", "12.5");
        await look("ready");
        await page.click("#main");
        await page.fill("#volts", "9.4");
        await look("pull");
        await forward(page, 40);
        await page.fill("#volts", "2.0");
        await look("over");
        await page.click("#main");
        await look("rest");
        await page.click("#pause");
        await look("paused");
        await page.click("#out");
        await look("out");
        await close();
        const no = await open(browser, "no-go", { colorScheme, clock: false });
        assert.deepEqual(await violations(no.page, true), []);
        await no.close();
    });
}

test("everything works by keyboard, in the order of the page", async () => {
    const { page, text, close } = await open(browser, "demo", { viewport: DESK });
    const order = [];
    for (let i = 0; i < 8; i++) {
        await page.keyboard.press("Tab");
        order.push(await page.evaluate(() => document.activeElement.id));
        const outlined = await page.evaluate(() =>
            getComputedStyle(document.activeElement).outlineStyle !== "none");
        assert.ok(outlined, order.at(-1) + " shows its focus");
    }
    assert.deepEqual(order.slice(0, 5), ["theme", "sound", "main", "moment", "volts"]);
    await page.focus("#main");
    await page.keyboard.press("Enter");
    assert.match(await text("main"), /^Stop pull 1/);
    assert.equal(await page.evaluate(() => document.activeElement.id), "main");
    await page.keyboard.press("Space");
    assert.match(await text("main"), /^Rest: /);
    await page.keyboard.press("Enter"); // not before its time
    assert.match(await text("main"), /^Rest: /);
    assert.match(await text("said"), /Not yet/);
    await close();
});

test("light and dark can be chosen", async () => {
    const { page, close } = await open(browser, "demo", { colorScheme: "dark" });
    const paper = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
    const dark = await paper();
    await page.click("#theme");
    const light = await paper();
    assert.notEqual(light, dark);
    await page.reload();
    assert.equal(await paper(), light);
    await page.click("#theme");
    assert.equal(await paper(), dark);
    await close();
});

test("prints on one sheet", async () => {
    for (const name of NAMES) {
        const { page, close } = await open(browser, name, { clock: false, colorScheme: "dark" });
        for (const format of ["A4", "Letter"]) {
            const path = join(FOLDER, "shots", `${name}-${format}.pdf`);
            await page.pdf({ path, format, printBackground: true });
            const info = execFileSync("pdfinfo", [path]).toString();
            assert.match(info, /Pages:\s+1\n/, `${name} on ${format}`);
        }
        await close();
    }
});

test("what would be loaded is blocked", async () => {
    const { page } = await open(browser, "demo", { clock: false });
    const blocked = await page.evaluate(async () => {
        const seen = [];
        document.addEventListener("securitypolicyviolation", (e) => {
            seen.push(e.effectiveDirective);
        });
        const add = (tag, change) => {
            const element = document.createElement(tag);
            change(element);
            document.body.append(element);
        };
        add("img", (e) => e.setAttribute("src", "data:image/gif;base64,R0lGODlhAQABAAAAACw="));
        add("script", (e) => e.append("window.ran = true"));
        add("iframe", (e) => e.setAttribute("src", "about:srcdoc"));
        add("p", (e) => e.setAttribute("style", "color: red"));
        await fetch("https://example.invalid/").catch(() => {});
        await new Promise((done) => setTimeout(done, 200));
        return [seen, window.ran];
    });
    assert.equal(blocked[1], undefined);
    for (const directive of ["img-src", "script-src-elem", "style-src-attr", "connect-src"]) {
        assert.ok(blocked[0].includes(directive), directive + " in " + blocked[0]);
    }
    await page.context().close();
});
