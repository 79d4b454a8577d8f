import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { readConfig, SETTINGS } from '../src/config.js'

describe('readConfig(environment)', () => {
  test('gives every setting its documented default', () => {
    const page = readFileSync(join(import.meta.dirname, '../docs/settings.md'), 'utf8')
    for (const { name, default: value, meaning } of SETTINGS) {
      expect(page).toContain(`| \`${name}\` | ${value === '' ? 'empty' : `\`${value}\``} | ${meaning} |`)
    }
    expect(readConfig({})).toMatchObject({
      host: '127.0.0.1',
      port: 8080,
      corsOrigins: [],
      trustProxy: [],
      logLevel: 'info',
      bodyLimitBytes: 1_048_576,
    })
  })

  test('treats an empty variable as absent', () => {
    expect(readConfig({ PORT: '', HOST: '', CORS_ORIGINS: '' })).toEqual(readConfig({}))
  })

  test('reads numbers and lists', () => {
    const config = readConfig({
      PORT: '0',
      CORS_ORIGINS: ' https://club.example , http://localhost:5173,',
      TRUST_PROXY: '127.0.0.1,10.0.0.0/8, ::1, fc00::/7, loopback',
    })
    expect(config.port).toBe(0)
    expect(config.corsOrigins).toEqual(['https://club.example', 'http://localhost:5173'])
    expect(config.trustProxy).toEqual(['127.0.0.1', '10.0.0.0/8', '::1', 'fc00::/7', 'loopback'])
    expect(readConfig({ CORS_ORIGINS: '*' }).corsOrigins).toBe('*')
    expect(readConfig({ FRAME_ANCESTORS: 'https://club.example' }).frameAncestors).toEqual([
      'https://club.example',
    ])
    expect(readConfig({}).frameAncestors).toEqual([])
  })

  test('ignores other variables', () => {
    expect(readConfig({ PATH: '/usr/bin', LANG: 'C' })).toEqual(readConfig({}))
  })

  const wrong: ReadonlyArray<readonly [string, string]> = [
    ['PORT', '65536'],
    ['PORT', '-1'],
    ['PORT', '80.5'],
    ['PORT', 'http'],
    ['LOG_LEVEL', 'loud'],
    ['BODY_LIMIT_BYTES', '1023'],
    ['BODY_LIMIT_BYTES', '67108865'],
    ['REQUEST_TIMEOUT_MS', '99'],
    ['HEADERS_TIMEOUT_MS', '600001'],
    ['CORS_ORIGINS', 'club.example'],
    ['CORS_ORIGINS', 'https://club.example/'],
    ['CORS_ORIGINS', 'https://club.example/app'],
    ['CORS_ORIGINS', 'https://Club.example'],
    ['CORS_ORIGINS', 'https://club.example:443'],
    ['CORS_ORIGINS', 'https://club.example,*'],
    ['CORS_ORIGINS', 'null'],
    // In the header it would end the directive and begin another.
    ['FRAME_ANCESTORS', 'https://club.example; script-src *'],
    ['FRAME_ANCESTORS', "'self'"],
    // A count of proxies would be read as the address 0.0.0.1, and nobody believed.
    ['TRUST_PROXY', '1'],
    ['TRUST_PROXY', 'true'],
    ['TRUST_PROXY', '10.0.0.0/33'],
    ['TRUST_PROXY', '10.0.0.0/'],
    ['TRUST_PROXY', 'proxy.example'],
    ['TRUST_PROXY', '127.0.0.1,10.0.0'],
  ]
  for (const [name, value] of wrong) {
    test(`refuses ${name}=${value}, naming both`, () => {
      const refused = value.split(',').at(-1)!
      expect(() => readConfig({ [name]: value })).toThrow(
        new RegExp(`^environment: .*${name} .*got ${refused.replaceAll(/[.*/]/g, '\\$&')}`),
      )
    })
  }

  test('refuses headers that may take longer than the whole request', () => {
    expect(() => readConfig({ REQUEST_TIMEOUT_MS: '5000' })).toThrow(
      'HEADERS_TIMEOUT_MS expected at most REQUEST_TIMEOUT_MS (5000); got 10000',
    )
    expect(readConfig({ REQUEST_TIMEOUT_MS: '5000', HEADERS_TIMEOUT_MS: '5000' }).headersTimeoutMs).toBe(5000)
  })

  test('names every wrong variable at once', () => {
    expect(() => readConfig({ PORT: 'x', LOG_LEVEL: 'loud' })).toThrow(/PORT .*LOG_LEVEL |LOG_LEVEL .*PORT /)
  })
})
