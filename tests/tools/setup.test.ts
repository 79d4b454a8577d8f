import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import {
  copyFileSync,
  cpSync,
  existsSync,
  mkdirSync,
  readFileSync,
  realpathSync,
  writeFileSync,
} from 'node:fs'
import { dirname, join } from 'node:path'
import { beforeEach, describe, expect, test } from 'vitest'
import { tempFolder } from '../support/temp.js'

const root = join(import.meta.dirname, '../..')
let folder: string
const inFolder = (...names: string[]) => join(folder, ...names)

/** A fresh clone, as far as the set-up reads it. */
beforeEach(() => {
  folder = realpathSync(tempFolder())
  for (const name of ['package.json', 'package-lock.json', 'tools', 'runtimes/fallback'])
    cpSync(join(root, name), inFolder(name), {
      recursive: true,
      filter: (path) => !path.includes('node_modules'),
    })
})

/** Every version of Node is too old for it, or none is. */
function setOldest(version: string) {
  const manifest = JSON.parse(readFileSync(inFolder('package.json'), 'utf8'))
  writeFileSync(inFolder('package.json'), JSON.stringify({ ...manifest, engines: { node: `>=${version}` } }))
}

/** As if the packages of the lock file were installed. */
function pretendInstalled(where: string) {
  const lock = readFileSync(inFolder(where, 'package-lock.json'))
  mkdirSync(inFolder(where, 'node_modules', '.bin'), { recursive: true })
  writeFileSync(
    inFolder(where, 'node_modules', '.installed-lock'),
    createHash('sha256').update(lock).digest('hex'),
  )
}

function setUp(node = process.execPath, environment: Record<string, string> = {}) {
  const { npm_node_execpath, ...env } = process.env
  const startMs = performance.now()
  const { status, stderr } = spawnSync(node, ['tools/setup.mjs'], {
    cwd: folder,
    encoding: 'utf8',
    env: {
      ...env,
      // Nothing listens there.
      npm_config_registry: 'http://127.0.0.1:9',
      npm_config_cache: inFolder('cache'),
      ...environment,
    },
  })
  return { status, lines: stderr.trimEnd().split('\n'), seconds: (performance.now() - startMs) / 1000 }
}

// Found 2026-11: without a network npm tried again for minutes, and its messages were the end.
describe('without a registry the set-up ends with one sentence', () => {
  test('where the packages are missing', () => {
    const { status, lines, seconds } = setUp()
    expect({ status, lines }).toEqual({
      status: 1,
      lines: [
        'installing packages (about half a minute the first time)',
        'set-up failed: the npm registry does not answer, and the cache of npm does not hold all packages.',
      ],
    })
    expect(seconds).toBeLessThan(30)
  })

  test('where Node is too old', () => {
    setOldest('99.9')
    const own = process.versions.node
    const { status, lines } = setUp()
    expect({ status, lines }).toEqual({
      status: 1,
      lines: [
        `Node ${own} is too old: getting a newer one from the npm registry, for this folder only`,
        `set-up failed: wheel-to-dial needs Node 99.9 or later, this is Node ${own}, and a newer one could not be fetched: the npm registry does not answer.`,
      ],
    })
    expect(existsSync(inFolder('runtimes/fallback/node_modules'))).toBe(false)
  })
})

describe.skipIf(process.platform === 'win32')('the Node of the registry', () => {
  const link = () => inFolder('node_modules', '.bin', 'node')
  let fetched: string

  beforeEach(() => {
    pretendInstalled('.')
    pretendInstalled('runtimes/fallback')
    fetched = inFolder('runtimes/fallback/node_modules/node-fetched/bin/node')
    mkdirSync(dirname(fetched), { recursive: true })
    copyFileSync(process.execPath, fetched)
  })

  test('is what npm scripts call node, where the own Node is too old', () => {
    setOldest('99.9')
    expect(setUp()).toMatchObject({ status: 0, lines: [''] })
    expect(realpathSync(link())).toBe(fetched)
  })

  test('is so no longer once the own Node is new enough', () => {
    setOldest('99.9')
    setUp()
    setOldest('20.0')
    setUp(fetched, { npm_node_execpath: fetched })
    expect(existsSync(link())).toBe(true)
    setUp(fetched, { npm_node_execpath: process.execPath })
    expect(existsSync(link())).toBe(false)
  })
})
