import { describe, expect, test } from 'vitest'
import { SETTINGS } from '../../src/config.js'
import { testApp } from '../support/app.js'
import { pages } from '../support/markdown.js'

const page = pages.get('docs/integrations.md')!
const defaults = new Map(SETTINGS.map((one) => [one.name, one.default]))

/** A page with its line breaks taken out, so that words can be looked for. */
const flat = (text: string) => text.replaceAll(/\s+/g, ' ')

describe('docs/integrations.md', () => {
  test('names the headers that browsers may read', async () => {
    const app = await testApp({ CORS_ORIGINS: 'https://club.example' })
    const { headers } = await app.inject({ url: '/livez', headers: { origin: 'https://club.example' } })
    await app.close()
    const [, named] = /Browsers may read (.*?) of an answer/.exec(flat(page))!
    expect([...named!.matchAll(/`([^`]+)`/g)].map(([, name]) => name!.toLowerCase()).sort()).toEqual(
      String(headers['access-control-expose-headers']).split(', ').sort(),
    )
  })

  test('shows the rates as an answer has them', async () => {
    const app = await testApp({ RATE_PER_ADDRESS: defaults.get('RATE_PER_ADDRESS')! })
    const { headers } = await app.inject('/v1/tires?size=175/70R13')
    await app.close()
    expect(page).toContain(
      `\`RateLimit-Policy: ${headers['ratelimit-policy']}\` and \`RateLimit: ${headers.ratelimit}\``,
    )
  })

  test('says how long the service waits', () => {
    const seconds = (name: string) => Number(defaults.get(name)) / 1000
    expect(flat(page)).toContain(
      `waits ${seconds('REQUEST_TIMEOUT_MS')} s for the whole of a request and for its answer to be read`,
    )
    expect(seconds('ANSWER_STALL_MS')).toBe(seconds('REQUEST_TIMEOUT_MS'))
  })
})
