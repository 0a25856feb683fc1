// SPDX-License-Identifier: GPL-3.0-or-later
//
// check.js PAGE...: looks at each page in a browser, light and dark, on a telephone and on a desk: no violation of the rules of
// accessibility, nothing wider than the window, nothing fetched. Makes a picture of each beside it. Prints what is wrong.
const path = require('path');
const modules = process.env.LOOK_MODULES;
const puppeteer = require(path.join(modules, 'puppeteer-core'));

const options = ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking',
	'--disable-component-update', '--disable-sync'];

async function look(browser, file, scheme, width) {
	const page = await browser.newPage();
	const faults = [];
	page.on('request', (request) => {
		if (!request.url().startsWith('file://' + file))
			faults.push('fetches ' + request.url());
	});
	page.on('dialog', (dialog) => {
		faults.push('runs a script of its data');
		dialog.dismiss();
	});
	await page.setViewport({ width, height: 900, deviceScaleFactor: width < 500 ? 2 : 1 });
	await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }]);
	await page.goto('file://' + file);
	await page.screenshot({ path: file.replace(/\.html$/, `-${width}-${scheme}.png`), fullPage: true });
	if (await page.evaluate(() => document.documentElement.scrollWidth > window.innerWidth))
		faults.push('wider than the window');
	await page.addScriptTag({ path: path.join(modules, 'axe-core/axe.min.js') });
	const result = await page.evaluate(() => window.axe.run());
	for (const violation of result.violations)
		faults.push(`${violation.id}: ${violation.nodes[0].html.slice(0, 120)}`);
	await page.close();
	return faults.map((fault) => `${file}: ${width} pixels, ${scheme}: ${fault}`);
}

(async () => {
	const browser = await puppeteer.launch({ executablePath: process.env.LOOK_BROWSER, args: options });
	let count = 0;
	for (const file of process.argv.slice(2))
		for (const width of [390, 1280])
			for (const scheme of ['light', 'dark'])
				for (const fault of await look(browser, path.resolve(file), scheme, width)) {
					console.log(fault);
					count++;
				}
	await browser.close();
	process.exit(count ? 1 : 0);
})();
