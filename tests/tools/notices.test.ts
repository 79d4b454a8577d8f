import { execFileSync } from 'node:child_process'
import { mkdirSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { noticesOf } from '../../tools/notices.js'
import { testApp } from '../support/app.js'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'

const root = join(import.meta.dirname, '../..')

describe('the licenses of what the service runs with', () => {
  const text = noticesOf(root)
  /** A package, its license in package.json, and its text up to the next rule. */
  const sections = text.split(/^={80}$/m).slice(1)
  const titles = sections.flatMap((section) => section.trim().split('\n\n')[0]!.split('\n'))

  // Independent of the lock file: what npm finds installed for production.
  test('name every package that npm finds, in its version', () => {
    const lines = execFileSync('npm', ['ls', '--omit=dev', '--all', '--parseable', '--long'], {
      cwd: root,
      encoding: 'utf8',
      shell: process.platform === 'win32',
    })
    const installed = [...lines.matchAll(/:((?:@[^/:]+\/)?[^@/:]+)@(\d[^:\s]*)/g)]
      .map(([, name, version]) => `${name} ${version}`)
      .filter((title) => !title.startsWith('wheel-to-dial '))
    expect(installed.length).toBeGreaterThan(50)
    const named = new Set(titles.map((title) => title.replace(/ \([^)]*\)*$/, '')))
    expect(installed.filter((title) => !named.has(title))).toEqual([])
  })

  test('are texts: each says what is allowed or names its conditions', () => {
    const short = sections.filter((section) => section.trim().split('\n\n').slice(1).join('\n').length < 400)
    expect(short).toEqual([])
    const mute = sections.filter((section) => !/permi|license|redistribut|public domain/i.test(section))
    expect(mute).toEqual([])
  })

  test('include those of the fonts in PDFs', () => {
    const fonts = sections.find((section) => /^dejavu-fonts-ttf /m.test(section))
    expect(fonts).toMatch(/Bitstream Vera/)
  })
})

describe('noticesOf(root)', () => {
  function project(
    packages: Record<string, { manifest: object; files?: Record<string, string>; dev?: boolean }>,
  ) {
    const folder = tempFolder()
    const lock: Record<string, object> = { '': {} }
    writeFileSync(join(folder, 'LICENSE'), 'Own license')
    for (const [name, { manifest, files = {}, dev }] of Object.entries(packages)) {
      const path = `node_modules/${name}`
      lock[path] = dev === true ? { dev } : {}
      for (const [file, content] of Object.entries({
        'package.json': JSON.stringify({ name, ...manifest }),
        ...files,
      })) {
        mkdirSync(dirname(join(folder, path, file)), { recursive: true })
        writeFileSync(join(folder, path, file), content)
      }
    }
    lock['node_modules/for-another-platform'] = { optional: true }
    writeFileSync(join(folder, 'package-lock.json'), JSON.stringify({ packages: lock }))
    return folder
  }
  const plain = { version: '1.0.0', license: 'MIT' }

  test('gives the files of a package, once for all that share them, and leaves out tools of development', () => {
    const text = noticesOf(
      project({
        alpha: { manifest: plain, files: { LICENSE: 'Text A\r\n', NOTICE: 'Notice A' } },
        '@scope/beta': { manifest: plain, files: { 'license.md': 'Text B' } },
        gamma: { manifest: plain, files: { COPYING: 'Text B\n' } },
        tool: { manifest: plain, files: { LICENSE: 'Text of a tool' }, dev: true },
      }),
    )
    expect(text).toContain('Own license')
    expect(text).toContain('alpha 1.0.0 (MIT)\n\nText A\n\nNotice A\n')
    expect(text).toContain('@scope/beta 1.0.0 (MIT)\ngamma 1.0.0 (MIT)\n\nText B\n')
    expect(text).not.toMatch(/tool 1|another-platform/)
  })

  test('gives the text of the named license, with the author, where a package ships none', () => {
    const author = { name: 'the club of Tarvenna' }
    const text = noticesOf(project({ delta: { manifest: { ...plain, author } } }))
    expect(text).toMatch(
      /Copyright \(c\) the club of Tarvenna\n\nPermission is hereby granted, free of charge/,
    )
  })

  test('fails, with the name of the package, where there is neither', () => {
    expect(() => noticesOf(project({ delta: { manifest: { ...plain, license: 'ZZ-1.0' } } }))).toThrow(
      /delta 1\.0\.0 ships no license text, and its license is ZZ-1\.0/,
    )
    expect(() => noticesOf(project({ delta: { manifest: { version: '1.0.0' } } }))).toThrow(/delta 1\.0\.0/)
  })
})

describe('GET /notices', async () => {
  build()
  const app = await testApp()
  afterAll(() => app.close())

  test('is the text of the build', async () => {
    const response = await app.inject('/notices')
    expect(response.statusCode).toBe(200)
    expect(response.headers['content-type']).toBe('text/plain; charset=utf-8')
    expect(response.body).toBe(noticesOf(root))
  })
})
