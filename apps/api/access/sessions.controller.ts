import { Body, Controller, Delete, Get, HttpCode, Inject, Param, Post, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import {
  EndedSession,
  Id,
  Member,
  NewPin,
  NewSession,
  NewSignInService,
  PinChange,
  Session,
  SessionPeople,
  SignIn,
  SignInService,
} from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { PUBLIC_URL } from '../http/public-url.js';
import { giveCookie, takeCookie } from '../http/session-cookie.js';
import {
  NEW_PIN_EXAMPLE,
  NEW_SESSION_EXAMPLE,
  NEW_SIGN_IN_SERVICE_EXAMPLE,
  PIN_CHANGE_EXAMPLE,
  SIGN_IN_EXAMPLE,
} from './access.examples.js';

@Controller('v1')
export class SessionsController {
  private readonly secure: boolean;

  constructor(@Inject(PUBLIC_URL) publicUrl: string | null) {
    this.secure = publicUrl?.startsWith('https:') === true;
  }

  // No Idempotency-Key: the answer sets a cookie whose secret is never stored. A session nobody uses runs out.
  @Post('session')
  @Operation({
    id: 'openSession',
    summary: 'Exchange the key for a session of the console, kept in a cookie that scripts cannot read',
    body: NewSession,
    example: NEW_SESSION_EXAMPLE,
    reply: Session,
    status: 201,
  })
  async openSession(
    @Caller() call: Call,
    @Body({ schema: NewSession }) body: NewSession,
    @Res({ passthrough: true }) reply: FastifyReply,
  ): Promise<Session> {
    const { session, secret } = await call.casebook.sessions.open(call.keyHolder, body);
    giveCookie(reply, secret, this.secure);
    return session;
  }

  @Get('session')
  @Operation({ id: 'getSession', summary: 'The session of the cookie, and who acts in it', reply: Session, sessionOnly: true })
  getSession(@Caller() call: Call): Session {
    return call.casebook.sessions.describe(call.session);
  }

  @Delete('session')
  @Operation({ id: 'endSession', summary: 'End the session and take its cookie away', reply: EndedSession, sessionOnly: true })
  endSession(@Caller() call: Call, @Res({ passthrough: true }) reply: FastifyReply): Promise<{ id: string }> {
    takeCookie(reply, this.secure);
    return call.casebook.sessions.end(call.session);
  }

  @Get('session/people')
  @Operation({ id: 'listSessionPeople', summary: 'Who may sign in at this device', reply: SessionPeople, sessionOnly: true })
  async listPeople(@Caller() call: Call) {
    return { data: await call.casebook.sessions.people(call.session) };
  }

  @Post('session/person')
  @HttpCode(200)
  @Operation({
    id: 'signIn',
    summary: 'Sign in at a shared device with a PIN',
    body: SignIn,
    example: SIGN_IN_EXAMPLE,
    reply: Session,
    sessionOnly: true,
  })
  signIn(@Caller() call: Call, @Body({ schema: SignIn }) body: SignIn): Promise<Session> {
    return call.casebook.sessions.signIn(call.session, body);
  }

  @Delete('session/person')
  @Operation({ id: 'signOut', summary: 'Sign out; the device stays open for the next', reply: Session, sessionOnly: true })
  signOut(@Caller() call: Call): Promise<Session> {
    return call.casebook.sessions.signOut(call.session);
  }

  @Post('session/pin')
  @HttpCode(200)
  @Operation({
    id: 'changeOwnPin',
    summary: 'Change the PIN of whoever has signed in',
    body: PinChange,
    example: PIN_CHANGE_EXAMPLE,
    reply: Session,
    sessionOnly: true,
  })
  changeOwnPin(@Caller() call: Call, @Body({ schema: PinChange }) body: PinChange): Promise<Session> {
    return call.casebook.sessions.changeOwnPin(call.session, body);
  }

  @Get('sign-in-service')
  @Operation({
    id: 'getSignInService',
    summary: 'The sign-in service whose tokens are trusted, and what they must be made for',
    permission: 'keys:read',
    reply: SignInService,
  })
  getSignInService(@Caller() call: Call): Promise<SignInService> {
    return call.casebook.tokens.getSignInService(call.actor);
  }

  // No Idempotency-Key: there is one at most, and setting it again sets it.
  @Post('sign-in-service')
  @HttpCode(200)
  @Operation({
    id: 'setSignInService',
    summary: 'Trust the access tokens (RFC 9068) of an OpenID Connect issuer',
    permission: 'keys:write',
    body: NewSignInService,
    example: NEW_SIGN_IN_SERVICE_EXAMPLE,
    reply: SignInService,
  })
  setSignInService(@Caller() call: Call, @Body({ schema: NewSignInService }) body: NewSignInService): Promise<SignInService> {
    return call.casebook.tokens.setSignInService(call.actor, body);
  }

  @Delete('sign-in-service')
  @Operation({ id: 'removeSignInService', summary: 'Trust no tokens any more', permission: 'keys:write', reply: SignInService })
  removeSignInService(@Caller() call: Call): Promise<SignInService> {
    return call.casebook.tokens.removeSignInService(call.actor);
  }

  // No Idempotency-Key: a PIN is set, not added, and the key's fingerprint would keep a trace of it.
  @Post('members/:id/pin')
  @HttpCode(200)
  @Operation({
    id: 'setPin',
    summary: 'Set the PIN with which a person signs in at shared devices',
    permission: 'members:write',
    params: { id: Id },
    body: NewPin,
    example: NEW_PIN_EXAMPLE,
    reply: Member,
  })
  setPin(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: NewPin }) body: NewPin): Promise<Member> {
    return call.casebook.sessions.setPin(call.actor, id, body);
  }

  @Delete('members/:id/pin')
  @Operation({
    id: 'removePin',
    summary: 'Take the PIN of a person away, and sign them out everywhere',
    permission: 'members:write',
    params: { id: Id },
    reply: Member,
  })
  removePin(@Caller() call: Call, @Param('id', { schema: Id }) id: string): Promise<Member> {
    return call.casebook.sessions.removePin(call.actor, id);
  }
}
