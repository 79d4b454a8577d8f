import { existsSync } from 'node:fs'

/** The browser of the tests of pages: CHROMIUM, or where Debian puts it. */
const path = process.env.CHROMIUM ?? '/usr/bin/chromium'
export const executablePath = existsSync(path) ? path : undefined

/** Says once a run that the tests of pages are skipped where there is no browser; REQUIRE_BROWSER=1 makes that a failure. */
export default function sayWithoutBrowser(): void {
  if (executablePath !== undefined) return
  const words = `no ${path} (apt-get install chromium, or name another in CHROMIUM)`
  if (process.env.REQUIRE_BROWSER === '1') throw new Error(`REQUIRE_BROWSER=1, but there is ${words}`)
  console.log(`Tests of pages in a browser are skipped: there is ${words}.`)
}
