import { expect, test } from 'vitest'
import { curl, withSetting } from '../../src/program/calls.js'

const url = 'http://127.0.0.1:8080/v1/parts?bolts=4&kind=pulse-ring'
const headers = ['content-type: application/json']

// Found 2026-11: in PowerShell the printed calls failed: `curl` is another program in its version 5, and @ without quotes names a variable.
test('a printed call of curl is one for the shell of the platform', () => {
  expect(curl(url, { platform: 'linux' })).toBe(`curl -s '${url}'`)
  expect(curl(url, { platform: 'win32' })).toBe(`curl.exe -s "${url}"`)
  const call = (file: string, platform: NodeJS.Platform) =>
    curl('http://[::1]:1/', { headers, file, platform })
  expect(call('examples/a.json', 'linux')).toBe(
    "curl -s 'http://[::1]:1/' -H 'content-type: application/json' -d @examples/a.json",
  )
  expect(call("club's cars/a.json", 'darwin')).toBe(
    "curl -s 'http://[::1]:1/' -H 'content-type: application/json' -d '@club'\\''s cars/a.json'",
  )
  expect(call('examples\\a.json', 'win32')).toBe(
    'curl.exe -s "http://[::1]:1/" -H "content-type: application/json" -d "@examples\\a.json"',
  )
})

test('a printed setting is one for the shell of the platform', () => {
  expect(withSetting('DATABASE_FILE', 'my data/a.sqlite', 'npm start', 'linux')).toBe(
    "DATABASE_FILE='my data/a.sqlite' npm start",
  )
  expect(withSetting('DATABASE_FILE', 'data/demo.sqlite', 'npm start', 'win32')).toBe(
    '$env:DATABASE_FILE = "data/demo.sqlite"; npm start',
  )
})
