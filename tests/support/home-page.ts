import type { Page } from 'playwright-core'

/** What `GET /` asks for its result. */
export const WORKSHEET = '**/v1/vehicle-checks/worksheet'

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
