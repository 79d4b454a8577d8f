import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import type { AxeResults } from 'axe-core'
import { type Browser, type BrowserContextOptions, chromium, type Frame, type Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, vi } from 'vitest'
import { executablePath } from './chromium.js'

const ARGS = [
  '--headless',
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
]

/** A group of tests that need a browser. */
export const describeInBrowser = describe.skipIf(executablePath === undefined)

export interface Watched {
  readonly page: Page
  /** What the page did that it must not: errors on its console, breaches of its policy, requests to other origins. */
  readonly faults: string[]
}

/** A browser for the tests of one file. */
export function useBrowser() {
  let browser: Browser | undefined
  const closings: Array<() => Promise<void>> = []
  // A page waits for what it is told to wait for, however busy the machine is.
  vi.setConfig({ testTimeout: 240_000 })

  beforeAll(async () => {
    if (executablePath !== undefined) browser = await chromium.launch({ executablePath, args: ARGS })
  })
  afterAll(async () => {
    for (const close of closings) await close()
    await browser?.close()
  })

  /** Opens an address in a browser of its own, and watches it. Answers with an error status are no fault: the tests ask for them. */
  return async function open(
    url: string,
    options: BrowserContextOptions = {},
    origins = [new URL(url).origin],
  ): Promise<Watched> {
    const context = await browser!.newContext({ viewport: { width: 1200, height: 900 }, ...options })
    closings.push(() => context.close())
    const page = await context.newPage()
    page.setDefaultTimeout(120_000)
    const faults: string[] = []
    page.on('console', (message) => {
      const expected = message.text().startsWith('Failed to load resource')
      if (message.type() === 'error' && !expected) faults.push(message.text())
    })
    page.on('pageerror', (error) => faults.push(error.message))
    page.on('request', (request) => {
      const address = request.url()
      const inside = /^(data|blob):/.test(address) || origins.includes(new URL(address).origin)
      if (!inside) faults.push(`request to ${address}`)
    })
    await page.addInitScript(`document.addEventListener('securitypolicyviolation', (event) => {
      console.error('policy: ' + event.effectiveDirective + ' ' + event.blockedURI)
    })`)
    await page.goto(url)
    return { page, faults }
  }
}

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')

/** Expects that axe finds nothing against the page or frame as it stands, but for rules whose reason to be left out stands at the call. */
export async function expectAccessible(page: Page | Frame, without: readonly string[] = []): Promise<void> {
  await page.evaluate(AXE)
  const rules = Object.fromEntries(without.map((id) => [id, { enabled: false }]))
  const { violations } = await page.evaluate<AxeResults>(`axe.run(${JSON.stringify({ rules })})`)
  expect(
    violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html.slice(0, 200)).join(' | ')}`),
  ).toEqual([])
}

/** Expects that nothing sticks out at the right. */
export async function expectNoOverflow(page: Page | Frame): Promise<void> {
  const root = 'document.documentElement'
  const [shown, whole] = await page.evaluate<number[]>(`[${root}.clientWidth, ${root}.scrollWidth]`)
  expect(whole).toBeLessThanOrEqual(shown!)
}
