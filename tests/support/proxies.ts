import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { chmodSync, readFileSync, writeFileSync } from 'node:fs'
import type { AddressInfo } from 'node:net'
import { createServer } from 'node:net'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { afterEach } from 'vitest'
import { tempFolder } from './temp.js'

const deploy = join(import.meta.dirname, '../../deploy')

export type ProxyName = 'nginx' | 'caddy'

/** Where a proxy is installed; where it must be, REQUIRE_NGINX=1 or REQUIRE_CADDY=1 makes its absence a failure. */
export function hasProxy(name: ProxyName): boolean {
  const [option] = name === 'nginx' ? ['-v'] : ['version']
  const found = spawnSync(name, [option]).status === 0
  if (found) return true
  const requirement = `REQUIRE_${name.toUpperCase()}`
  if (process.env[requirement] === '1') throw new Error(`${requirement}=1, but there is no ${name}`)
  console.log(
    `skipped: the service is not tried behind ${name}, which is not installed (apt-get install ${name})`,
  )
  return false
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  const { port } = server.address() as AddressInfo
  server.close()
  await once(server, 'close')
  return port
}

/** Replaces what must be there exactly once. */
function replaced(text: string, old: string | RegExp, by: string): string {
  const parts = text.split(old)
  if (parts.length !== 2) throw new Error(`${old} stands ${parts.length - 1} times in the file`)
  return parts.join(by)
}

/** The file of `deploy` without TLS, inside a configuration that keeps everything in a folder of its own. */
function nginxConfig(folder: string, port: number, service: string): string {
  let server = readFileSync(join(deploy, 'nginx.conf'), 'utf8')
  server = replaced(server, 'server 127.0.0.1:8080;', `server ${service};`)
  server = replaced(server, 'listen 443 ssl;', `listen 127.0.0.1:${port};`)
  server = replaced(server, /^ *ssl_certificate .*\n *ssl_certificate_key .*\n/m, '')
  const temp = ['client_body', 'proxy', 'fastcgi', 'uwsgi', 'scgi']
    .map((name) => `${name}_temp_path ${folder}/${name};`)
    .join('\n')
  return `daemon off; pid ${folder}/pid; error_log stderr warn; events {} http { access_log off;\n${temp}\n${server}}\n`
}

/** The file of `deploy` for plain HTTP/1.1 and HTTP/2, without the interface for administration. */
function caddyConfig(port: number, service: string): string {
  const site = readFileSync(join(deploy, 'Caddyfile'), 'utf8')
  const local = replaced(site, /^wheel-to-dial\.example/m, `http://127.0.0.1:${port}`)
  return `{\nadmin off\nservers {\nprotocols h1 h2c\n}\n}\n${replaced(local, 'reverse_proxy 127.0.0.1:8080', `reverse_proxy ${service}`)}`
}

const running: ChildProcess[] = []

afterEach(async () => {
  for (const child of running.splice(0)) {
    child.kill('SIGTERM')
    if (child.exitCode === null) await once(child, 'exit')
  }
})

/** Starts a proxy with the file of `deploy`, before the service at an address; its own address. */
export async function startProxy(name: ProxyName, serviceAddress: string): Promise<string> {
  const folder = tempFolder()
  // The processes of nginx that serve requests run as another user where root starts it.
  chmodSync(folder, 0o755)
  const port = await freePort()
  const { host } = new URL(serviceAddress)
  const file = join(folder, 'config')
  writeFileSync(file, name === 'nginx' ? nginxConfig(folder, port, host) : caddyConfig(port, host))
  const args =
    name === 'nginx'
      ? ['-p', folder, '-e', 'stderr', '-c', file]
      : ['run', '--config', file, '--adapter', 'caddyfile']
  const child = spawn(name, args, {
    env: { ...process.env, HOME: folder },
    stdio: ['ignore', 'ignore', 'pipe'],
  })
  running.push(child)
  let said = ''
  child.stderr!.on('data', (chunk) => {
    said += chunk
  })
  const address = `http://127.0.0.1:${port}`
  while (true) {
    if (child.exitCode !== null) throw new Error(`${name} ended: ${said}`)
    const isThere = await fetch(`${address}/livez`).then(
      ({ ok }) => ok,
      () => false,
    )
    if (isThere) return address
    await wait(50)
  }
}
