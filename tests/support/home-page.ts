import type { Page } from 'playwright-core'
import { afterAll, beforeAll } from 'vitest'
import { type TestApp, testApp } from './app.js'

/** What `GET /` asks for its result. */
export const WORKSHEET = '**/v1/vehicle-checks/worksheet'

/** The service for the tests of a file, and the address of its page once they run. */
export function useHome(): { readonly app: TestApp; readonly url: string } {
  const home = {} as { app: TestApp; url: string }
  beforeAll(async () => {
    home.app = await testApp()
    home.url = `${await home.app.listen({ host: '127.0.0.1', port: 0 })}/`
  })
  afterAll(() => home.app.close())
  return home
}

/** Fills in a car whose wheel turns its head directly, so many turns a mile, on a head that reads true at 1000. */
export async function fillBenchCar(page: Page): Promise<void> {
  await page.fill('#name', 'Bench car')
  await page.selectOption('#tireBy', 'turns')
  await page.fill('#turns', '1000')
  for (const _ of [1, 2]) await page.locator('#stages button', { hasText: 'Remove' }).first().click()
  await page.fill('#constant', '1000')
}

export const check = (page: Page) => page.click('#check')

/** Fills in the invented car, checks it, and waits for the result. */
export async function checkExample(page: Page): Promise<void> {
  await page.click('#example')
  await check(page)
  await page.waitForSelector('#result h2')
}

/** The texts of the faults, by the id of their field. */
export async function faultsShown(page: Page): Promise<Record<string, string>> {
  await page.waitForSelector('#trouble:not([hidden])')
  const fields = await page.locator('[aria-invalid]').all()
  const entries = fields.map(async (field) => {
    const [id = ''] = (await field.getAttribute('aria-describedby'))!.split(' ')
    return [await field.getAttribute('id'), await page.locator(`[id="${id}"]`).textContent()]
  })
  return Object.fromEntries(await Promise.all(entries))
}
