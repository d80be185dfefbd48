import { Body, Controller, Get, Param, Patch, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import {
  AuditEvent,
  Id,
  IssuedKey,
  Key,
  KeyRotation,
  KeyUsage,
  Me,
  Member,
  MemberPatch,
  NewKey,
  NewMember,
  PageInput,
  pageOf,
  UsageQuestion,
} from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { KEY_ROTATION_EXAMPLE, MEMBER_PATCH_EXAMPLE, NEW_KEY_EXAMPLE, NEW_MEMBER_EXAMPLE } from './access.examples.js';

export const KeyPage = pageOf(Key, 'KeyPage');
export const MemberPage = pageOf(Member, 'MemberPage');
export const AuditPage = pageOf(AuditEvent, 'AuditPage');
const AuditQuery = PageInput.extend({ subjectId: Id.optional() });

@Controller('v1')
export class AccessController {
  @Get('me')
  @Operation({ id: 'me', summary: 'Who this key is and what it may do', reply: Me })
  me(@Caller() call: Call) {
    return call.casebook.access.me(call.actor);
  }

  @Get('keys')
  @Operation({ id: 'listKeys', summary: 'Keys of the organisation', permission: 'keys:read', query: PageInput, reply: KeyPage })
  async listKeys(@Caller() call: Call, @Query({ schema: PageInput }) page: PageInput) {
    return call.paged(await call.casebook.access.listKeys(call.actor, page));
  }

  @Get('keys/usage')
  @Operation({
    id: 'keyUsage',
    summary: 'How much keys asked for, by day: your own, and with keys:read those of all',
    query: UsageQuestion,
    reply: KeyUsage,
  })
  keyUsage(@Caller() call: Call, @Query({ schema: UsageQuestion }) query: UsageQuestion) {
    return call.casebook.usage.keyUsage(call.actor, query);
  }

  // No Idempotency-Key here: the answer holds a secret, which is never stored. A lost answer means revoking and issuing again.
  @Post('keys')
  @Operation({
    id: 'issueKey',
    secret: true,
    summary: 'Issue a key; its secret is shown this once',
    permission: 'keys:write',
    body: NewKey,
    example: NEW_KEY_EXAMPLE,
    reply: IssuedKey,
    status: 201,
  })
  issueKey(@Caller() call: Call, @Body({ schema: NewKey }) body: NewKey) {
    return call.casebook.access.issueKey(call.actor, body);
  }

  @Post('keys/:id/rotation')
  @Operation({
    id: 'rotateKey',
    secret: true,
    summary: 'A new secret for the same rights; the old one goes on for the overlap',
    permission: 'keys:write',
    params: { id: Id },
    body: KeyRotation,
    example: KEY_ROTATION_EXAMPLE,
    reply: IssuedKey,
    status: 201,
  })
  rotateKey(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: KeyRotation }) body: KeyRotation) {
    return call.casebook.access.rotateKey(call.actor, id, body);
  }

  @Post('keys/:id/revocation')
  @Operation({ id: 'revokeKey', summary: 'End a key at once', permission: 'keys:write', params: { id: Id }, reply: Key, status: 201 })
  revokeKey(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.access.revokeKey(call.actor, id);
  }

  @Get('members')
  @Operation({ id: 'listMembers', summary: 'People of the organisation', permission: 'members:read', query: PageInput, reply: MemberPage })
  async listMembers(@Caller() call: Call, @Query({ schema: PageInput }) page: PageInput) {
    return call.paged(await call.casebook.access.listMembers(call.actor, page));
  }

  @Post('members')
  @Operation({
    id: 'addMember',
    summary: 'Add a person',
    permission: 'members:write',
    body: NewMember,
    example: NEW_MEMBER_EXAMPLE,
    reply: Member,
    status: 201,
    creates: true,
  })
  addMember(@Caller() call: Call, @Body({ schema: NewMember }) body: NewMember) {
    return call.create(
      (casebook) => casebook.access.addMember(call.actor, body),
      (member) => ({ version: member.version }),
    );
  }

  @Patch('members/:id')
  @Operation({
    id: 'changeMember',
    summary: 'Change a person',
    permission: 'members:write',
    params: { id: Id },
    body: MemberPatch,
    example: MEMBER_PATCH_EXAMPLE,
    bodyType: 'application/merge-patch+json',
    ifMatch: 'required',
    reply: Member,
  })
  async changeMember(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: MemberPatch }) body: MemberPatch) {
    return call.tagged(await call.casebook.access.changeMember(call.actor, id, body, call.expectedVersion));
  }

  @Get('audit')
  @Operation({ id: 'listAudit', summary: 'Who did what, newest first', permission: 'audit:read', query: AuditQuery, reply: AuditPage })
  async listAudit(@Caller() call: Call, @Query({ schema: AuditQuery }) query: z.infer<typeof AuditQuery>) {
    return call.paged(await call.casebook.audit.listAudit(call.actor, query));
  }
}
