// npm run backup -- FILE: copies the database while the service runs, and verifies the copy.
import { readConfig } from '../src/config.js'
import { backupDatabase } from '../src/db/sqlite/backup.js'
import { runOnFile } from './run-on-file.js'

runOnFile('npm run backup -- FILE', (file) => {
  const report = backupDatabase(readConfig(process.env).databaseFile, file)
  return [`backup in ${report.file}, verified`, report]
})
