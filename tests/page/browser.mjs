// The browser, and pages opened in it the way a phone opens a file: offline, from the disk.
import assert from "node:assert/strict";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

export const FOLDER = process.env.PAGE_BUILD;
export const PHONE = { width: 360, height: 740 };
export const DESK = { width: 1280, height: 800 };
export const START = new Date("2030-05-01T10:00:00Z");

export const urlOf = (name) => pathToFileURL(join(FOLDER, name + ".html")).href;
export const readJson = (name) => JSON.parse(readFileSync(join(FOLDER, name + ".json"), "utf8"));

let profile;

export async function launch() {
    profile = mkdtempSync(join(tmpdir(), "page-test-"));
    return chromium.launch({
        executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
        args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
            "--disable-background-networking", "--disable-component-update", "--disable-sync",
            "--crash-dumps-dir=" + profile],
    });
}

export function cleanUp() {
    rmSync(profile, { recursive: true, force: true });
}

// Opens a page in a context of its own. What it complains about and what it asks for is collected;
// `close` fails on either. The clock of the page stands unless it is forwarded; option clock:
// "running" lets it run as well, false leaves the real one.
export async function open(browser, name, options = {}) {
    const context = await browser.newContext({
        viewport: options.viewport ?? PHONE,
        colorScheme: options.colorScheme ?? "light",
        offline: true,
    });
    const page = await context.newPage();
    const complaints = [], requests = [];
    page.on("console", (m) => {
        if (["error", "warning"].includes(m.type())) {
            complaints.push(m.text());
        }
    });
    page.on("pageerror", (e) => complaints.push(e.message));
    page.on("request", (r) => {
        if (r.url() !== urlOf(name)) {
            requests.push(r.url());
        }
    });
    if (options.before) {
        await page.addInitScript(options.before);
    }
    if (options.clock !== false) {
        await page.clock.install({ time: START });
    }
    await page.goto(urlOf(name));
    if (options.clock !== false && options.clock !== "running") {
        await page.clock.pauseAt(new Date(START.getTime() + 3600000));
    }
    const close = async () => {
        await context.close();
        assert.deepEqual(complaints, []);
        assert.deepEqual(requests, []);
    };
    const shoot = (as) => page.screenshot({ path: join(FOLDER, "shots", as + ".png") });
    const text = (id) => page.locator("#" + id).textContent();
    return { page, context, close, shoot, text };
}
